//! `taffrail import`: a recorded trace in the store as if it had been read live.

use taffrail::quantity::UtcMs;
use taffrail::store::{Reader, SeriesKind, StoredSample};

use super::*;

/// 2026-05-01T00:00:00Z.
const MAY: i64 = 1_777_593_600_000;

fn import(desk: &Desk) -> Output {
    let when = ["--start", "2026-05-01T00:00:00Z", "trace.csv"];
    let mut arguments = vec!["import", "--config", "taffrail.toml", "--bank", "house"];
    arguments.extend(when);
    desk.run(&arguments)
}

fn stored(desk: &Desk) -> Vec<StoredSample> {
    let reader = Reader::open(&desk.path("data/taffrail.sqlite")).expect("a store");
    let all = reader.all_series().expect("known series");
    let devices: Vec<_> = all.iter().filter(|s| s.kind == SeriesKind::Device.as_str()).collect();
    assert_eq!(devices.len(), 1, "{devices:?}");
    assert_eq!(devices[0].channels, ["voltage_v", "current_a", "temperature_c"]);
    let samples = reader.samples(devices[0].id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
    samples.collect::<Result<_, _>>().expect("sound chunks")
}

#[test]
fn every_row_is_stored_at_its_time() {
    let desk = Desk::new();
    desk.write("trace.csv", &STEADY_LOAD.replace("1200,51.1,-6,20", "1200,51.1,-6,"));
    let output = import(&desk);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let samples = stored(&desk);
    let times: Vec<i64> = samples.iter().map(|s| s.utc.0 - MAY).collect();
    assert_eq!(times, [0, 600_000, 1_200_000, 1_800_000, 2_400_000, 3_000_000, 3_600_000]);
    assert!(samples.iter().all(|s| s.trusted));
    assert_eq!(samples[0].sample.values, [Some(51.2), Some(-6.0), Some(20.0)]);
    assert_eq!(samples[2].sample.values, [Some(51.1), Some(-6.0), None]);
}

#[test]
fn the_same_trace_twice_is_stored_once_and_said_so() {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    assert_eq!(import(&desk).status.code(), Some(0));
    let once = stored(&desk);
    assert_eq!(once.len(), 7);
    let again = import(&desk);
    assert_eq!(again.status.code(), Some(0));
    assert!(text(&again.stderr).contains("were there already"), "{}", text(&again.stderr));
    assert_eq!(stored(&desk), once);
}

#[test]
fn a_mistake_in_the_last_row_leaves_nothing_stored() {
    let desk = Desk::new();
    desk.write("trace.csv", &format!("{STEADY_LOAD}4200,51,lots,20\n"));
    let output = import(&desk);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("trace.csv:9: current_a"), "{}", text(&output.stderr));
    assert!(!desk.path("data").exists(), "nothing was made");
}
