//! A port from opening to stopping.

use std::time::Duration;

use taffrail::clock::Clock;
use taffrail::link::{FrameSpec, PortState};
use taffrail::quantity::BootNo;
use tokio::time::sleep;

use super::far_end::{FarEnd, frames};
use super::{Tended, spec, stable_path};

#[tokio::test]
async fn frames_arrive_once_in_order_and_stamped_on_arrival() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let clock = Clock::system();
    let mut tended = Tended::start(spec(&path), 8);
    tended.until_opened(1).await;
    far_end.send(b"\n").await;
    for number in 0..20 {
        let before = clock.mono();
        far_end.send(&frames(number..number + 1)).await;
        let got = tended.next().await;
        assert_eq!(&*got.device, "shunt");
        assert_eq!(got.sample.values, [Some(52.31), Some(f64::from(number)), Some(19.4)]);
        assert_eq!(got.sample.at.boot, BootNo(7));
        assert!((before..=clock.mono()).contains(&got.sample.at.mono));
        sleep(Duration::from_millis(2)).await;
    }
    let burst = frames(20..520);
    let receive = async {
        for number in 20..520 {
            assert_eq!(tended.next().await.sample.values[1], Some(f64::from(number)));
        }
    };
    tokio::join!(far_end.send(&burst), receive);
    let status = tended.until_state(PortState::Live).await;
    assert_eq!(status.reason, None);
    let status = tended.stop().await;
    assert_eq!((status.state, status.reason.as_deref()), (PortState::Closed, Some("stopped")));
    let tally = status.tally;
    assert_eq!((tally.samples, tally.lost, tally.bad.total(), tally.partial), (520, 0, 0, 0));
}

#[tokio::test]
async fn what_waited_before_the_opening_is_not_taken_for_news() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let _kept_open = far_end.hold();
    far_end.send(&frames(0..150)).await;
    far_end.send(b"{\"voltage_v\":5").await;
    let mut tended = Tended::start(spec(&path), 500);
    tended.until_opened(1).await;
    far_end.send(b"2.31,\"current_a\":1,\"temperature_c\":19.4}\n").await;
    far_end.send(&frames(777..778)).await;
    assert_eq!(tended.next().await.sample.values[1], Some(777.0));
    let tally = tended.stop().await.tally;
    assert_eq!((tally.samples, tally.lines, tally.partial), (1, 1, 1));
}

#[tokio::test]
async fn a_pseudo_terminal_takes_any_speed_and_columns_work_live() {
    for baud in [300, 4_800, 19_200, 115_200, 250_000, 1_234_567] {
        let (_directory, path) = stable_path();
        let far_end = FarEnd::plug(&path);
        let mut spec = spec(&path);
        spec.baud = baud;
        spec.frame = FrameSpec::Delimited {
            separator: ';',
            columns: ["voltage_v", "current_a", "temperature_c"].map(|name| Some(name.to_owned())).to_vec(),
            scale: Some(vec![0.5, 1.0, 0.25]),
        };
        let mut tended = Tended::start(spec, 8);
        tended.until_opened(1).await;
        far_end.send(b"\n105;-8;78\n").await;
        assert_eq!(tended.next().await.sample.values, [Some(52.5), Some(-8.0), Some(19.5)], "{baud}");
        tended.stop().await;
    }
}

#[tokio::test]
async fn a_device_that_falls_quiet_is_called_silent_until_its_next_sample() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let mut spec = spec(&path);
    spec.quiet_after_s = 0.2;
    let clock = Clock::system();
    let mut tended = Tended::start(spec, 8);
    tended.until_opened(1).await;
    far_end.send(b"\n").await;
    far_end.send(&frames(0..1)).await;
    tended.until_state(PortState::Live).await;
    let silent = tended.until_state(PortState::Silent).await;
    assert!(silent.reason.is_some_and(|reason| reason.contains("nothing came for 0.2 s")));
    sleep(Duration::from_millis(50)).await;
    let quiet_s = tended.status.borrow().quiet_for_s(clock.mono()).expect("had a sample");
    assert!((0.25..10.0).contains(&quiet_s), "{quiet_s} s");
    far_end.send(&frames(1..2)).await;
    tended.until_state(PortState::Live).await;
    let tally = tended.stop().await.tally;
    assert_eq!((tally.samples, tally.opened), (2, 1), "the port stayed open");
}

#[tokio::test]
async fn a_port_in_use_is_left_alone_and_taken_once_it_is_free() {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let _kept_open = far_end.hold();
    let mut first = Tended::start(spec(&path), 8);
    first.until_opened(1).await;
    let mut second = Tended::start(spec(&path), 8);
    let refused = second.until("a reason", |s| s.reason.is_some()).await;
    assert_eq!(refused.state, PortState::Waiting);
    assert!(refused.reason.is_some_and(|reason| reason.contains("is in use")));
    first.stop().await;
    second.until_opened(1).await;
    far_end.send(b"\n").await;
    far_end.send(&frames(3..4)).await;
    assert_eq!(second.next().await.sample.values[1], Some(3.0));
    second.stop().await;
}

#[tokio::test]
async fn a_path_that_is_no_serial_port_is_waited_for_with_a_reason() {
    let (directory, missing) = stable_path();
    let plain = directory.path().join("plain");
    std::fs::write(&plain, "not a port").expect("a file");
    let dangling = directory.path().join("dangling");
    std::os::unix::fs::symlink("/dev/no-such-port", &dangling).expect("a link");
    for (path, reason) in [
        (missing, "does not exist: plug the device in"),
        (dangling, "does not exist: plug the device in"),
        (plain, "cannot be opened as a serial port"),
        (directory.path().to_owned(), "cannot be opened as a serial port"),
        ("/dev/null".into(), "cannot be opened as a serial port"),
    ] {
        let mut tended = Tended::start(spec(&path), 8);
        let status = tended.until("a reason", |s| s.reason.is_some()).await;
        assert_eq!(status.state, PortState::Waiting);
        let told = status.reason.expect("a reason");
        assert!(told.contains(reason) && told.contains(path.to_str().expect("text")), "{told}");
        tended.stop().await;
    }
}
