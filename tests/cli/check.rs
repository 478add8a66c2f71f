//! `taffrail check`: every mistake at once, and what the devices say now.

use super::*;
use crate::daemon::wire::Wire;

#[test]
fn every_mistake_of_a_configuration_is_listed() {
    let desk = Desk::new();
    let text_of = BANK.replace("\"lead-carbon\"", "\"zinc\"").replace("reserve = 0.30", "reserve = 30");
    desk.write("taffrail.toml", &format!("listen = \"here\"{text_of}colour = \"red\"\n"));
    let output = desk.run(&["check"]);
    assert_eq!(output.status.code(), Some(78));
    let told = text(&output.stderr);
    for part in ["1:10: listen", "6:13: bank[1].chemistry", "11:11: bank[1].reserve", "14:1: bank[1].colour"] {
        assert!(told.lines().any(|line| line.contains(part)), "{part} in\n{told}");
    }
    assert!(output.stdout.is_empty());
}

#[test]
fn a_port_that_is_not_there_is_told() {
    let nowhere = tempfile::tempdir().expect("a scratch directory").path().join("unplugged");
    let desk = Desk::with_shunt(&nowhere);
    let output = desk.run(&["check", "--wait", "0.5"]);
    assert_eq!(output.status.code(), Some(69));
    assert!(text(&output.stderr).contains("shunt"), "{}", text(&output.stderr));
    let shown = text(&output.stdout);
    assert!(shown.contains("unplugged does not exist: plug the device in"), "{shown}");
}

#[test]
fn what_each_channel_reads_now_is_shown_with_its_unit() {
    let wire = Wire::lay();
    let desk = Desk::with_shunt(wire.port());
    let output = wire.feeding(|| desk.run(&["check", "--wait", "10"]));
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{shown}{}", text(&output.stderr));
    for part in ["voltage_v = 51.5 V", "current_a = -8.25 A", "temperature_c = 19.5 °C"] {
        assert!(shown.contains(part), "{part} in\n{shown}");
    }
    assert!(shown.contains("rated-capacity-ah = 120"), "the effective settings are shown:\n{shown}");
}

#[test]
fn what_each_branch_does_now_is_shown_so_that_a_sensor_the_wrong_way_round_is_seen() {
    let wire = Wire::lay();
    let desk = Desk::with_shunt(wire.port());
    let config = std::fs::read_to_string(desk.path("taffrail.toml")).expect("just written");
    let name = config.split_once("name = \"").and_then(|(_, rest)| rest.split_once('"')).expect("a bank").0;
    let branch = |name_of: &str, role: &str, further: &str| {
        format!("\n[[branch]]\nname = \"{name_of}\"\nbank = \"{name}\"\nrole = \"{role}\"\n{further}\n")
    };
    let motor = branch("motor", "load", "purpose = \"drive\"\nchannel = \"current_a\"");
    let solar = branch("solar", "source", "channel = \"current_a\"");
    desk.write("taffrail.toml", &format!("{config}{motor}{solar}{}", branch("rest", "load", "")));
    let output = wire.feeding(|| desk.run(&["check", "--wait", "10"]));
    let shown = text(&output.stdout);
    assert_eq!(output.status.code(), Some(0), "{shown}{}", text(&output.stderr));
    for part in [
        "purpose = \"drive\"",
        "passages = { drive-load-a = 1.2",
        "a load: draws 8.25 A, by current_a of shunt\n",
        "a source: draws 8.25 A, by current_a of shunt; turn `positive` round if that is wrong",
        "a load: what the other branches leave",
    ] {
        assert!(shown.contains(part), "{part} in\n{shown}");
    }
}
