//! One look at a device.

use std::time::Duration;

use taffrail::link::{ProbeReport, probe};

use super::far_end::{FarEnd, frames};
use super::{spec, stable_path};

const WAIT: Duration = Duration::from_millis(300);

/// Probes a port whose device sends `bytes` again and again.
async fn look(bytes: &[u8]) -> ProbeReport {
    let (_directory, path) = stable_path();
    let far_end = FarEnd::plug(&path);
    let spec = spec(&path);
    let babble = async {
        loop {
            tokio::time::sleep(Duration::from_millis(20)).await;
            far_end.send(bytes).await;
        }
    };
    tokio::select! {
        report = probe(&spec, WAIT) => report.expect("a sound description"),
        () = babble => unreachable!("it babbles for ever"),
    }
}

#[tokio::test]
async fn a_device_that_speaks_is_shown_with_its_values() {
    let report = look(&frames(4..5)).await;
    assert_eq!(report.values, [Some(52.31), Some(4.0), Some(19.4)]);
    assert_eq!(report.problem, None);
    assert!(report.tally.samples >= 1);
}

#[tokio::test]
async fn values_from_several_lines_are_put_together() {
    let report = look(b"{\"voltage_v\":52}\n{\"current_a\":1}\n{\"temperature_c\":20}\n").await;
    assert_eq!(report.values, [Some(52.0), Some(1.0), Some(20.0)]);
    assert_eq!(report.problem, None);
}

#[tokio::test]
async fn what_is_missing_is_named_with_the_reason() {
    for (bytes, wanted) in [
        (
            &b"{\"voltage_v\":52,\"current_a\":1,\"temperature_c\":-127}\n"[..],
            "no value for temperature_c; last refused: temperature_c: -127 is not within -50 to 100",
        ),
        (b"{\"voltage_v\":52}\n", "no value for current_a, temperature_c"),
        (b"\x80\x81\n", "no line could be read: check baud (now 19200) and frame; last refused: not UTF-8"),
        (b"\x80\x81", "but no complete line: check baud (now 19200)"),
        (b"", "nothing came from "),
    ] {
        let problem = look(bytes).await.problem.expect("a problem");
        assert!(problem.contains(wanted), "{problem}");
    }
}

#[tokio::test]
async fn a_port_that_is_not_there_or_goes_away_is_reported() {
    let (_directory, path) = stable_path();
    let report = probe(&spec(&path), WAIT).await.expect("a sound description");
    assert!(report.problem.is_some_and(|problem| problem.contains("does not exist")));
    let far_end = FarEnd::plug(&path);
    let pull = async {
        tokio::time::sleep(Duration::from_millis(50)).await;
        drop(far_end);
    };
    let spec = spec(&path);
    let (report, ()) = tokio::join!(probe(&spec, WAIT), pull);
    let problem = report.expect("a sound description").problem.expect("a problem");
    assert!(problem.contains("went away"), "{problem}");
}

#[tokio::test]
async fn a_contradictory_description_is_an_error() {
    let mut spec = spec("/nowhere".as_ref());
    spec.baud = 0;
    assert!(probe(&spec, WAIT).await.is_err());
}
