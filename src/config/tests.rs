use super::*;
use crate::battery::{Chemistry, Purpose, Role};

/// The contract's example, word for word but for the port.
const EXAMPLE: &str = r#"
listen = "127.0.0.1:7245"
data-dir = "bank-data"
zone = "Europe/Lisbon"

[[bank]]
name = "house"
chemistry = "lead-carbon"          # lead-carbon | agm | gel | flooded | lfp | nmc
cells-in-series = 24
rated-capacity-ah = 120.0
rated-hours = 20.0
rates = [ { hours = 10.0, capacity-ah = 117.0 }, { hours = 1.0, capacity-ah = 93.0 } ]   # or: peukert-exponent = 1.08
reserve = 0.30
sensor-gain-error = 0.005          # 1 sigma, ratio
sensor-offset-a = 0.05             # 1 sigma

[[device]]
name = "shunt"
bank = "house"
port = "/dev/serial/by-id/some-adapter"
baud = 19200
frame = "delimited"
separator = ","
columns = ["voltage_v", "current_a", "-", "temperature_c"]
scale = [0.001, 0.01, 1, 0.1]
"#;

fn parse(text: &str) -> Result<Config, Vec<Problem>> {
    Config::parse(text, Path::new("/etc/boat"))
}

fn problems_of(text: &str) -> Vec<String> {
    parse(text).expect_err("mistakes").iter().map(ToString::to_string).collect()
}

#[test]
fn the_example_of_the_contract_is_read_as_written() {
    let config = parse(EXAMPLE).expect("no mistakes");
    let bank = config.bank("house").expect("there");
    assert_eq!(bank.chemistry, Chemistry::LeadCarbon);
    assert!((bank.reserve - 0.3).abs() < 1e-12);
    assert!((bank.deliverable_when_full_ah(93.0, 25.0) - 93.0).abs() < 1e-9);
    assert_eq!(config.data_dir, Path::new("/etc/boat/bank-data"));
    assert_eq!(config.devices[0].spec.channels.len(), 3);
    assert!(config.devices[0].is_main());
}

#[test]
fn what_is_shown_can_be_read_again_and_means_the_same() {
    let config = parse(EXAMPLE).expect("no mistakes");
    assert_eq!(parse(&config.to_string()).expect("own text"), config);
}

#[test]
fn an_exponent_that_nobody_stated_is_shown_as_assumed_and_stays_so() {
    let text = EXAMPLE.lines().filter(|line| !line.starts_with("rates") && !line.starts_with("peukert"));
    let config = parse(&text.collect::<Vec<_>>().join("\n")).expect("no mistakes");
    let shown = config.to_string();
    assert!(shown.contains("# peukert-exponent = ") && shown.contains(", assumed for lead-carbon"), "{shown}");
    assert_eq!(parse(&shown).expect("own text"), config);
}

#[test]
fn a_bank_is_reckoned_by_the_filter_unless_it_says_counter() {
    let config = parse(EXAMPLE).expect("no mistakes");
    assert_eq!(config.method("house"), Method::Filter);
    assert!(config.to_string().contains("method = \"filter\""));
    let counting = EXAMPLE.replace("reserve = 0.30", "reserve = 0.30\nmethod = \"counter\"");
    let counting = parse(&counting).expect("no mistakes");
    assert_eq!(counting.method("house"), Method::Counter);
    assert_eq!(parse(&counting.to_string()).expect("own text"), counting);
    let told = problems_of(&EXAMPLE.replace("reserve = 0.30", "method = \"guess\""));
    assert!(told[0].contains("bank[1].method") && told[0].contains("filter or counter"), "{told:?}");
}

#[test]
fn every_mistake_is_told_with_line_key_and_expectation() {
    let told = problems_of(
        r#"
listen = "here"
[[bank]]
name = "House Bank"
chemistry = "zinc"
cells-in-series = 0
rated-capacity = 100
reserve = 30
peukert-exponent = "high"
[[device]]
name = "shunt"
bank = "nobody"
port = 5
frame = "csv"
"#,
    );
    let expected = [
        "2:10: listen: is \"here\", expected address:port such as 127.0.0.1:7245",
        "3:1: bank[1].rated-capacity-ah: is missing, expected the capacity on the data sheet, Ah",
        "4:8: bank[1].name: is \"House Bank\", expected lower-case letters",
        "5:13: bank[1].chemistry: is \"zinc\", expected one of lead-carbon, agm",
        "6:19: bank[1].cells-in-series: expected a whole number from 1 to 1000",
        "7:1: bank[1].rated-capacity: unknown key; did you mean rated-capacity-ah?",
        "8:11: bank[1].reserve: is 30, expected a ratio from 0 to 0.95",
        "9:20: bank[1].peukert-exponent: expected a number",
        "12:8: device[1].bank: is \"nobody\", expected one of:",
        "13:8: device[1].port: expected a text in quotes",
        "14:9: device[1].frame: is \"csv\", expected \"json-lines\" or \"delimited\"",
    ];
    assert_eq!(told.len(), expected.len(), "{told:#?}");
    for (line, start) in told.iter().zip(expected) {
        assert!(line.starts_with(start), "{line}\n  does not begin\n{start}");
    }
}

#[test]
fn broken_syntax_is_told_with_its_line() {
    let told = problems_of("[[bank]\nname = \n");
    assert!(told[0].starts_with("1:"), "{told:?}");
}

#[test]
fn an_empty_file_misses_a_bank() {
    assert_eq!(problems_of(""), ["1:1: bank: is missing, expected at least one [[bank]]"]);
}

#[test]
fn names_and_ports_must_differ_and_a_bank_has_one_main_sensor() {
    let twice = format!("{EXAMPLE}\n{}", &EXAMPLE[EXAMPLE.find("[[bank]]").expect("there")..]);
    let told = problems_of(&twice).join("\n");
    for part in ["as another bank's", "as another device's", "another device's port", "already has a device"] {
        assert!(told.contains(part), "{part} in\n{told}");
    }
}

#[test]
fn keys_of_the_wrong_frame_are_told() {
    let text = EXAMPLE.replace("\"delimited\"", "\"json-lines\"");
    assert!(problems_of(&text).iter().all(|p| p.contains("belongs to frame = \"delimited\"")));
}

#[test]
fn a_bank_with_mistakes_is_no_mistake_of_its_device() {
    let told = problems_of(&EXAMPLE.replace("cells-in-series = 24", "cells = 24"));
    assert_eq!(told.len(), 2, "{told:#?}");
    assert!(told.iter().all(|line| line.contains("bank[1].cells")), "{told:#?}");
    assert!(told[1].ends_with("did you mean cells-in-series?"), "{told:#?}");
}

/// Branches of the example's bank, measured by a device of its own.
const BRANCHES: &str = r#"
[[device]]
name = "branches"
bank = "house"
port = "/dev/serial/by-id/another-adapter"
frame = "json-lines"
channels = ["motor_a", "shore_a", "motor_temperature_c"]

[[branch]]
name = "motor"
title = "Motor"
bank = "house"
role = "load"
purpose = "drive"
channel = "motor_a"
positive = "discharge"
sensor-gain-error = 0.02

[[branch]]
name = "shore"
bank = "house"
role = "source"
purpose = "shore"
device = "branches"
channel = "shore_a"

[[branch]]
name = "house-loads"
bank = "house"
role = "load"
"#;

#[test]
fn branches_are_read_and_shown_so_that_they_can_be_read_again() {
    let config = parse(&format!("{EXAMPLE}{BRANCHES}")).expect("no mistakes");
    let branches = config.branches_of("house");
    let [motor, shore, rest] = &branches[..] else { panic!("{branches:?}") };
    let channel = motor.channel.as_ref().expect("measured");
    assert_eq!((channel.device.as_str(), channel.channel.as_str(), channel.reversed), ("branches", "motor_a", true));
    assert_eq!((motor.role, motor.purpose), (Role::Load, Purpose::Drive));
    assert_eq!((shore.role, shore.purpose, shore.title.as_str()), (Role::Source, Purpose::Shore, "shore"));
    assert!((motor.sensor.gain - 0.02).abs() < 1e-12 && (shore.sensor.gain - 0.01).abs() < 1e-12);
    assert!((shore.sensor.offset_a - 0.05).abs() < 1e-12, "the bank's own, where none is set");
    assert_eq!((rest.channel.clone(), rest.purpose), (None, Purpose::Other));
    assert_eq!(parse(&config.to_string()).expect("own text"), config);
    assert_eq!(config.branches_of("nobody"), []);
}

#[test]
fn mistakes_of_branches_are_told() {
    for (right, wrong, told) in [
        (
            "channel = \"motor_a\"",
            "channel = \"engine_a\"",
            "branch[1].channel: is \"engine_a\", expected one that a device of bank",
        ),
        (
            "channel = \"motor_a\"",
            "channel = \"motor_temperature_c\"",
            "branch[1].channel: is \"motor_temperature_c\", expected a current",
        ),
        ("positive = \"discharge\"", "positive = \"out\"", "branch[1].positive: is \"out\", expected"),
        ("role = \"source\"", "role = \"sink\"", "branch[2].role: is \"sink\", expected"),
        ("purpose = \"shore\"", "purpose = \"quay\"", "branch[2].purpose: is \"quay\", expected"),
        ("name = \"shore\"", "name = \"motor\"", "branch[2].name: is \"motor\", as another branch's"),
        (
            "name = \"house-loads\"\nbank = \"house\"",
            "name = \"house-loads\"\nbank = \"home\"",
            "branch[3].bank: is \"home\", expected one of: house",
        ),
        (
            "name = \"house-loads\"\n",
            "name = \"house-loads\"\npositive = \"charge\"\n",
            "branch[3].positive: belongs to a branch with a channel",
        ),
        ("channel = \"shore_a\"\n", "", "branch[3].channel: is missing, as on another branch"),
    ] {
        let text = format!("{EXAMPLE}{BRANCHES}");
        assert!(text.contains(right), "{right}");
        let lines = problems_of(&text.replacen(right, wrong, 1));
        assert!(lines.iter().any(|line| line.contains(told)), "{told} in\n{lines:#?}");
    }
    let unnamed = format!("{EXAMPLE}{BRANCHES}").replace("device = \"branches\"\n", "");
    assert_eq!(parse(&unnamed).expect("one device has the channel, so it need not be named").branches.len(), 3);
}

#[test]
fn what_makes_a_passage_follows_from_the_bank_unless_it_is_said() {
    let config = parse(EXAMPLE).expect("no mistakes");
    let rules = config.passage_rules("house").expect("there");
    assert!((rules.drive_load_a - 1.2).abs() < 1e-9 && (rules.discharge_a - 2.4).abs() < 1e-9);
    assert!(config.to_string().contains("passages = { drive-load-a = 1.2, "), "{config}");
    let said = EXAMPLE.replace("reserve = 0.30", "reserve = 0.30\npassages = { settled-s = 7200, drive-load-a = 4 }");
    let config = parse(&said).expect("no mistakes");
    let set = config.passage_rules("house").expect("there");
    assert_eq!(set, Rules { settled_s: 7200.0, drive_load_a: 4.0, ..rules });
    assert_eq!(parse(&config.to_string()).expect("own text"), config);
    let told = problems_of(&EXAMPLE.replace("reserve = 0.30", "passages = { settled-s = 5, drive-load = 4 }"));
    assert_eq!(told.len(), 2, "{told:#?}");
    assert!(told[0].contains("bank[1].passages.settled-s: is 5, expected 600 to 86400 s"), "{told:#?}");
    assert!(told[1].contains("drive-load: unknown key; did you mean drive-load-a?"), "{told:#?}");
    assert_eq!(config.passage_rules("nobody"), None);
}

#[test]
fn a_pin_is_read_and_shown_to_nobody() {
    let config = parse(EXAMPLE).expect("no mistakes");
    assert_eq!(config.pin, None);
    assert!(config.to_string().contains("# pin is not set\n"));
    let locked = parse(&format!("pin = \"Ahoy 4711\"\n{EXAMPLE}")).expect("no mistakes");
    assert_eq!(locked.pin, Some("Ahoy 4711".parse().expect("a PIN")));
    let shown = locked.to_string();
    assert!(shown.contains("# pin is set\n"), "{shown}");
    for text in [shown, format!("{locked:?}")] {
        assert!(!text.contains("4711"), "{text}");
    }
}

#[test]
fn a_pin_that_cannot_be_one_is_told_without_repeating_it() {
    for bad in ["\"471\"", "\" 4711\"", "\"Ahöy\"", "\"\""] {
        let told = problems_of(&format!("pin = {bad}\n{EXAMPLE}"));
        let expected = "1:7: pin: expected 4 to 64 letters, digits and signs of ASCII, without a space at either end";
        assert_eq!(told, [expected], "{bad}");
    }
    assert_eq!(problems_of(&format!("pin = 4711\n{EXAMPLE}")), ["1:7: pin: expected a text in quotes"]);
}
