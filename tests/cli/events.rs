//! `taffrail events`: what happened, filtered.

use super::*;
use taffrail::clock::{Trust, WallReading};
use taffrail::quantity::{Moment, MonoMs, UtcMs};
use taffrail::store::{BootKind, EventRecord, Options, Writer};

/// Three events on 2026-05-01 from 00:00 UTC on, an hour apart.
fn told() -> Desk {
    let desk = Desk::new();
    desk.write("taffrail.toml", &format!("zone = \"Europe/Lisbon\"\n{BANK}"));
    std::fs::create_dir(desk.path("data")).expect("a folder");
    let mut writer = Writer::open(&desk.path("data/taffrail.sqlite"), Options::default()).expect("opens");
    let boot = writer.begin_boot("a boot", BootKind::Live).expect("noted");
    let start = WallReading { mono: MonoMs(0), utc: UtcMs(1_777_593_600_000), trust: Trust::Synchronised };
    writer.clock_fix(boot, start, "start").expect("known boot");
    let long = "The sensor reads 0.4 A more than the branches account for since a week: look for what is left on.";
    let all = [
        (0, Some("house"), "unaccounted-load", "warning", long),
        (1, Some("drive"), "resistance-rise", "caution", "Look at the terminals."),
        (2, None, "clock-set", "note", "The clock was set."),
    ];
    for (hour, bank, kind, priority, text) in all {
        let event = EventRecord {
            at: Moment { boot, mono: MonoMs(hour * 3_600_000) },
            bank: bank.map(str::to_owned),
            device: None,
            kind: kind.to_owned(),
            priority: priority.to_owned(),
            text: text.to_owned(),
        };
        writer.event(event).expect("taken");
    }
    writer.close().expect("room");
    desk
}

fn kinds(desk: &Desk, arguments: &[&str]) -> Vec<String> {
    let output = desk.run(&[&["events", "--json"], arguments].concat());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let view: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let events = view["events"].as_array().expect("a list");
    events.iter().map(|event| event["kind"].as_str().expect("text").to_owned()).collect()
}

#[test]
fn events_come_the_latest_first_and_as_far_as_they_are_asked_for() {
    let desk = told();
    let all = ["clock-set", "resistance-rise", "unaccounted-load"];
    assert_eq!(kinds(&desk, &[]), all);
    assert_eq!(kinds(&desk, &["--limit", "1"]), all[..1]);
    assert_eq!(kinds(&desk, &["--bank", "house"]), all[2..]);
    assert_eq!(kinds(&desk, &["--priority", "caution"]), all[1..2]);
    assert_eq!(kinds(&desk, &["--kind", "clock-set"]), all[..1]);
    // Half past one in Lisbon is 00:30 UTC.
    assert_eq!(kinds(&desk, &["--from", "2026-05-01 01:30"]), all[..2]);
    assert_eq!(kinds(&desk, &["--from", "2026-05-01 01:30", "--to", "2026-05-01T01:30:00Z"]), all[1..2]);
    assert_eq!(desk.run(&["events", "--priority", "loud"]).status.code(), Some(2));
}

#[test]
fn a_person_reads_them_in_eighty_columns_at_local_times() {
    let desk = told();
    let output = text(&desk.run(&["events"]).stdout);
    assert!(output.lines().all(|line| line.chars().count() <= 80), "{output}");
    assert!(output.contains("2026-05-01 01:00  warning  unaccounted-load  house\n  The sensor reads"), "{output}");
    assert!(text(&desk.run(&["events", "--kind", "fire"]).stdout).contains("No such event"));
}
