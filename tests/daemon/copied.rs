//! Backup, a look and restore beside a daemon at work.

use std::process::Output;

use super::*;

/// Frames that are sent before the copy is made.
const FRAMES: u32 = 40;

fn ask(berth: &Berth, arguments: &[&str]) -> Output {
    berth.command(arguments).stdout(Stdio::piped()).stderr(Stdio::piped()).output().expect("the program starts")
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).expect("text")
}

/// Marks of the samples in a store, in order.
fn marks(path: &std::path::Path) -> Vec<f64> {
    let reader = Reader::open(path).expect("opens");
    let shunt = reader.all_series().expect("reads").into_iter().find(|s| s.name == "shunt").expect("a device");
    let samples = reader.samples(shunt.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
    samples.map(|sample| sample.expect("sound").sample.values[MARK].expect("a mark")).collect()
}

#[test]
fn a_running_daemon_is_backed_up_and_looked_at_and_lets_nobody_restore_under_it() {
    let berth = Berth::new();
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    for mark in 1..=FRAMES {
        wire.send(frame(mark).as_bytes());
    }
    daemon.wait_for_mark(FRAMES);
    // No commit is due for minutes: what is copied comes off the slate.
    daemon.wait_for("a copy with every frame in it", |_| {
        let made = ask(&berth, &["backup", "--replace", "copy.sqlite"]);
        assert!(made.status.success(), "{}", text(&made.stderr));
        (marks(&berth.path("copy.sqlite")).last().copied() >= Some(f64::from(FRAMES))).then_some(())
    });
    let info = ask(&berth, &["info", "--json"]);
    let info: Value = serde_json::from_slice(&info.stdout).expect("JSON");
    assert_eq!((&info["layout"], &info["set_aside"]), (&4.into(), &0.into()));
    assert!(info["slate_bytes"].as_u64().is_some_and(|bytes| bytes > 0), "{info}");

    let refused = ask(&berth, &["restore", "copy.sqlite"]);
    assert!(!refused.status.success());
    assert!(text(&refused.stderr).contains("stop it first"), "{}", text(&refused.stderr));
    wire.send(frame(FRAMES + 1).as_bytes());
    daemon.wait_for_mark(FRAMES + 1);
    daemon.terminate();
    assert!(daemon.end().is_some_and(|status| status.success()));

    let kept = marks(&berth.path("data/taffrail.sqlite"));
    assert_eq!(kept.last().copied(), Some(f64::from(FRAMES + 1)));
    let put = ask(&berth, &["restore", "copy.sqlite"]);
    assert!(put.status.success(), "{}", text(&put.stderr));
    assert_eq!(marks(&berth.path("data/taffrail.sqlite")), marks(&berth.path("copy.sqlite")));
    // And a daemon goes on with it.
    let wire = berth.plug();
    let mut daemon = berth.start();
    daemon.wait_until_it_hears(&wire);
    daemon.terminate();
    assert!(daemon.end().is_some_and(|status| status.success()));
    assert!(marks(&berth.path("data/taffrail.sqlite")).len() > marks(&berth.path("copy.sqlite")).len());
}
