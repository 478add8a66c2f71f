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
