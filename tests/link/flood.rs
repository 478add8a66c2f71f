//! Bytes that no device should send.

use taffrail::link::{Intake, Limit, PortState};

use super::far_end::{FarEnd, frames};
use super::{Tended, spec, stable_path};

/// What a port at 115200 baud brings in a minute, ten bits a byte.
const A_MINUTE: usize = 60 * 11_520;

/// Random bytes, always the same: splitmix64 (Steele, Lea and Flood 2014).
fn random_bytes(mut seed: u64, count: usize) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(count + 8);
    while bytes.len() < count {
        seed = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut word = seed;
        word = (word ^ (word >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        word = (word ^ (word >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        bytes.extend((word ^ (word >> 31)).to_le_bytes());
    }
    bytes.truncate(count);
    bytes
}

#[tokio::test]
async fn a_minute_of_random_bytes_is_counted_and_the_next_frame_is_read() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let mut tended = Tended::start(spec(&path), 8);
    tended.until_opened(1).await;
    let noise = random_bytes(1, A_MINUTE);
    far_end.send(&noise).await;
    far_end.send(b"\n").await;
    far_end.send(&frames(5..6)).await;
    assert_eq!(tended.next().await.sample.values[1], Some(5.0));
    tended.until_state(PortState::Live).await;
    let status = tended.stop().await;
    let tally = &status.tally;
    let all = noise.len() + 1 + frames(5..6).len();
    assert_eq!(tally.bytes, all as u64);
    assert_eq!(tally.samples, 1);
    let newlines = noise.iter().filter(|&&byte| byte == b'\n').count() as u64;
    assert_eq!(tally.lines + tally.partial + tally.overlong, newlines + 2);
    assert_eq!(tally.lines, tally.blank + tally.bad.total() + tally.samples);
    assert!(tally.bad.total() > 2000, "{} bad lines", tally.bad.total());
    let last = status.last_bad.expect("kept");
    assert!(last.chars().all(|c| c == '…' || c == ' ' || c.is_ascii_graphic()), "{last}");
    assert!(last.len() < 400, "{last}");
}

#[tokio::test]
async fn a_line_of_ten_megabytes_is_dropped_and_counted_once() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let mut tended = Tended::start(spec(&path), 8);
    tended.until_opened(1).await;
    far_end.send(b"\n").await;
    let megabyte = vec![b'9'; 1_000_000];
    for _ in 0..10 {
        far_end.send(&megabyte).await;
    }
    far_end.send(b"\n").await;
    far_end.send(&frames(6..7)).await;
    assert_eq!(tended.next().await.sample.values[1], Some(6.0));
    tended.until_state(PortState::Live).await;
    let tally = tended.stop().await.tally;
    assert_eq!((tally.overlong, tally.lines, tally.samples), (1, 1, 1));
    assert!(tally.bytes > 10_000_000);
}

/// Random bytes seldom look like a frame; damaged frames do.
#[test]
fn frames_with_flipped_bits_never_give_an_impossible_value() {
    let mut spec = spec("/nowhere".as_ref());
    spec.limits[0] = Some(Limit { low: 40.0, high: 60.0 });
    let mut intake = Intake::new(&spec).expect("fits");
    let mut log = b"\n".to_vec();
    log.extend(frames(0..20_000));
    let noise = random_bytes(2, 2 * log.len());
    for (byte, noise) in log.iter_mut().zip(noise.chunks(2)) {
        if let [0, bit] = noise {
            *byte ^= 1 << (bit % 8);
        }
    }
    let mut rest = &log[..];
    let mut samples = 0;
    while let Some(values) = intake.next_values(&mut rest) {
        samples += 1;
        assert!(values[0].is_none_or(|v| (40.0..=60.0).contains(&v)));
        assert!(values[1].is_none_or(f64::is_finite));
        assert!(values[2].is_none_or(|c| (-50.0..=100.0).contains(&c)));
    }
    let tally = intake.tally();
    assert_eq!(tally.samples, samples);
    assert!(samples > 10_000, "{samples} samples");
    assert!(tally.bad.total() > 500, "{} bad lines", tally.bad.total());
    assert!(tally.refused_total() > 10, "{} refused values", tally.refused_total());
}
