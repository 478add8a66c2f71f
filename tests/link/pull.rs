//! The plug pulled and put back.

use std::time::Duration;

use taffrail::link::PortState;
use tokio::time::sleep;

use super::far_end::{FarEnd, frames};
use super::{Tended, spec, stable_path};

const ROUNDS: u32 = 50;
const FRAMES_A_ROUND: u32 = 400;

/// A frame counts from the device's first newline after the opening. In every second round the plug is pulled after
/// the reader has had all bytes: then every frame must have come. In the others it is pulled in the middle of a
/// frame with bytes under way, which a kernel drops with the port: then what came must be the frames from the first
/// on without a hole, as far as the reader had them.
#[tokio::test]
async fn a_port_pulled_fifty_times_under_load_gives_every_frame_once_in_order() {
    let (_directory, path) = stable_path();
    let mut tended = Tended::start(spec(&path), 64);
    let mut samples = std::mem::replace(&mut tended.samples, tokio::sync::mpsc::channel(1).1);
    let collector = tokio::spawn(async move {
        let mut numbers = Vec::new();
        while let Some(got) = samples.recv().await {
            numbers.extend(got.sample.values[1]);
        }
        numbers
    });
    let mut sent_bytes = 0;
    let mut counted = 0;
    let mut known = Vec::new();
    for round in 0..ROUNDS {
        let far_end = FarEnd::plug(&path);
        tended.until_opened(u64::from(round) + 1).await;
        let first = round * 1000;
        let mut bytes = b"31,\"current_a\":-1}\n".to_vec();
        bytes.extend(frames(first..first + FRAMES_A_ROUND));
        let calm = round % 2 == 0;
        if !calm {
            bytes.extend(b"{\"voltage_v\":52.31,\"curr");
        }
        far_end.send(&bytes).await;
        tended.until_state(PortState::Live).await;
        if calm {
            let all = sent_bytes + bytes.len() as u64;
            tended.until("all bytes", |s| s.tally.bytes == all).await;
        }
        drop(far_end);
        let closed = tended.until_state(PortState::Closed).await;
        assert!(closed.reason.is_some_and(|reason| reason.contains("went away")));
        sent_bytes = closed.tally.bytes;
        known.push((first, closed.tally.samples - counted));
        counted = closed.tally.samples;
    }
    let status = tended.stop().await;
    let numbers = collector.await.expect("collects");
    let mut expected = Vec::new();
    for (round, &(first, count)) in known.iter().enumerate() {
        assert!((1..=u64::from(FRAMES_A_ROUND)).contains(&count));
        if round % 2 == 0 {
            assert_eq!(count, u64::from(FRAMES_A_ROUND), "all of round {round}");
        }
        let count = u32::try_from(count).expect("small");
        expected.extend((first..first + count).map(f64::from));
    }
    assert_eq!(numbers, expected);
    let tally = status.tally;
    assert_eq!((tally.lost, tally.bad.total(), tally.overlong), (0, 0, 0));
    // The port came back at once each time, so an attempt was rarely in vain.
    assert!(tally.attempts <= u64::from(ROUNDS) * 2 + 3, "{} attempts", tally.attempts);
    println!("{ROUNDS} pulls: {} frames, {} attempts, {} partial lines", numbers.len(), tally.attempts, tally.partial);
}

#[tokio::test]
async fn a_port_that_stays_away_is_tried_ever_more_seldom() {
    let (_directory, path) = stable_path();
    let mut tended = Tended::start(spec(&path), 8);
    let far_end = FarEnd::plug(&path);
    tended.until_opened(1).await;
    far_end.send(b"\n").await;
    far_end.send(&frames(0..1)).await;
    tended.until_state(PortState::Live).await;
    drop(far_end);
    let closed = tended.until_state(PortState::Closed).await;
    sleep(Duration::from_millis(2200)).await;
    let later = tended.until("a reason", |s| s.reason.is_some()).await;
    // Due after 0.25, 0.75 and 1.75 s.
    let attempts = later.tally.attempts - closed.tally.attempts;
    assert!((2..=3).contains(&attempts), "{attempts} attempts in 2.2 s");
    assert_eq!(later.state, PortState::Closed);
    assert_eq!(later.since, closed.since, "closed since it was pulled, not since the last attempt");
    assert!(later.reason.is_some_and(|reason| reason.contains("does not exist")));
    let far_end = FarEnd::plug(&path);
    tended.until_opened(2).await;
    far_end.send(b"\n").await;
    far_end.send(&frames(1..2)).await;
    tended.until_state(PortState::Live).await;
    tended.stop().await;
}
