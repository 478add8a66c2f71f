//! `taffrail health` and `taffrail test`: what they say of a young bank, and what a test takes.

use serde_json::Value;

use super::passages::sailed;
use super::*;

#[test]
fn a_young_bank_is_told_plainly_that_there_is_not_enough_yet() {
    let desk = sailed();
    let page = desk.told(&["health"]);
    assert!(page.lines().all(|line| line.chars().count() <= 80), "{page}");
    for said in [
        "house: lead-carbon, rated 120 Ah at 20 h",
        "Not measured yet",
        "Not enough yet",
        "no protective device",
        "give off hydrogen",
        "m³/h of air",
    ] {
        assert!(page.contains(said), "{said}: {page}");
    }
    let view: Value = serde_json::from_str(&desk.told(&["health", "--json"])).expect("JSON");
    let record = &view["banks"][0];
    assert_eq!((&record["bank"], &record["fade"]["earned"]), (&"house".into(), &false.into()));
    assert_eq!((&record["capacity"]["latest"], &record["fade"]["end_of_life"]), (&Value::Null, &Value::Null));
    assert_eq!(record["first"], "2026-05-01T00:00:00Z");
    let refused = desk.run(&["health", "--bank", "drive"]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(text(&refused.stderr).contains("expected one of: house"));
    let copy = desk.run(&["health", "--store", "data/taffrail.sqlite"]);
    assert_eq!(copy.status.code(), Some(2), "a bank is judged by its description");
}

#[test]
fn a_test_is_watched_by_a_daemon_and_says_what_it_takes() {
    let desk = sailed();
    let status = desk.told(&["test", "status"]);
    assert!(status.contains("None is running") && status.contains("No test yet"), "{status}");
    assert!(status.lines().all(|line| line.chars().count() <= 80), "{status}");
    let view: Value = serde_json::from_str(&desk.told(&["test", "status", "--json"])).expect("JSON");
    let rested = view["preconditions"].as_array().expect("a list").iter().find(|one| one["name"] == "rested");
    assert_eq!(rested.expect("it is there")["met"], false, "it is being charged at 9 A");
    assert_eq!((&view["running"], &view["past"]), (&Value::Null, &serde_json::json!([])));
    let start = desk.run(&["test", "start", "--load", "6"]);
    assert_eq!(start.status.code(), Some(69), "no daemon reads the samples");
    assert!(text(&start.stderr).contains("no daemon"), "{}", text(&start.stderr));
    let stop = desk.run(&["test", "stop"]);
    assert_eq!(stop.status.code(), Some(2));
    assert!(text(&stop.stderr).contains("no capacity test"), "{}", text(&stop.stderr));
    assert_eq!(desk.run(&["test", "start"]).status.code(), Some(2), "the load is not said");
    assert_eq!(desk.run(&["test", "start", "--load", "-6"]).status.code(), Some(2));
}
