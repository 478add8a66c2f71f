//! `taffrail passages`: the table, one passage, and what people say of them while no daemon runs.

use serde_json::Value;

use super::*;

/// A day on a house bank: full at first, half a day at 12 A, a rest, and charged again; a row a minute.
fn day() -> String {
    let mut trace = String::from("t_s,voltage_v,current_a,temperature_c\n");
    for minute in 0..=1440 {
        let (volts, amps) = match minute {
            0..120 => (54.0, 0.2),
            120..600 => (50.5, -12.0),
            600..900 => (50.9, 0.0),
            _ => (53.5, 9.0),
        };
        trace.push_str(&format!("{},{volts},{amps},20\n", minute * 60));
    }
    trace
}

/// A desk with that day in its store, in the zone of Lisbon.
pub fn sailed() -> Desk {
    let desk = Desk::new();
    desk.write("taffrail.toml", &format!("zone = \"Europe/Lisbon\"\n{BANK}"));
    desk.write("trace.csv", &day());
    let import =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--start", "2026-05-01T00:00:00Z", "--charge"];
    let output = desk.run(&[&import[..], &["full", "trace.csv"]].concat());
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    desk
}

impl Desk {
    /// The standard output of a command that must succeed.
    pub fn told(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}: {}", text(&output.stderr));
        text(&output.stdout)
    }

    /// Its passages, the latest first.
    fn passages(&self) -> Vec<Value> {
        let view: Value = serde_json::from_str(&self.told(&["passages", "--json"])).expect("JSON");
        view["banks"][0]["passages"].as_array().expect("a list").clone()
    }
}

#[test]
fn a_mark_by_hand_is_in_the_table_at_local_times_with_its_sums() {
    let desk = sailed();
    let before = desk.passages().len();
    // In summer Lisbon is an hour ahead of UTC: this is from 03:00 to 05:00 UTC.
    let told = desk.told(&["passages", "mark", "2026-05-01 04:00", "2026-05-01T05:00:00Z", "--name", "To the island"]);
    assert!(told.starts_with("Passage ") && told.contains("is marked"), "{told}");
    let all = desk.passages();
    let one = all.iter().find(|one| one["name"] == "To the island").expect("it is there");
    assert_eq!((&one["begin"], &one["end"]), (&"2026-05-01T03:00:00Z".into(), &"2026-05-01T05:00:00Z".into()));
    assert!(all.len() <= before + 1);
    // Two hours at 12 A.
    let out_ah = one["summary"]["charge_out_ah"].as_f64().expect("worked out at once");
    assert!((out_ah - 24.0).abs() < 0.01, "{out_ah}");

    let table = desk.told(&["passages"]);
    assert!(table.lines().all(|line| line.chars().count() <= 80), "{table}");
    let line = table.lines().find(|line| line.contains("To the isla…")).expect("cut to its column");
    assert!(line.contains("* 2026-05-01 04:00") && line.contains("2.0 h") && line.contains(" 24.0 "), "{line}");
    let id = one["id"].to_string();
    let shown = desk.told(&["passages", "show", &id]);
    assert!(shown.lines().all(|line| line.chars().count() <= 80), "{shown}");
    for said in ["To the island", "2026-05-01 04:00", "24.0 Ah out, 0.0 Ah in", "the whole bank"] {
        assert!(shown.contains(said), "{said}: {shown}");
    }
}

#[test]
fn what_people_say_of_a_passage_is_kept() {
    let desk = sailed();
    desk.told(&["passages", "mark", "2026-05-01 03:00", "2026-05-01 06:00"]);
    let number = desk.passages()[0]["id"].clone();
    let id = number.to_string();
    desk.told(&["passages", "name", &id, "Night watch"]);
    desk.told(&["passages", "note", &id, "Wind against the tide."]);
    desk.told(&["passages", "ends", &id, "--end", "2026-05-01 07:00"]);
    let told = desk.told(&["passages", "split", &id, "2026-05-01 05:00"]);
    assert!(told.contains("cut in two"), "{told}");
    let all = desk.passages();
    let spans: Vec<(&str, &str)> =
        all.iter().map(|one| (one["begin"].as_str().expect("a time"), one["end"].as_str().expect("a time"))).collect();
    assert!(spans.contains(&("2026-05-01T02:00:00Z", "2026-05-01T04:00:00Z")), "{spans:?}");
    assert!(spans.contains(&("2026-05-01T04:00:00Z", "2026-05-01T06:00:00Z")), "{spans:?}");
    let later = all.iter().find(|one| one["begin"] == "2026-05-01T04:00:00Z").expect("there")["id"].to_string();
    desk.told(&["passages", "merge", &id, &later]);
    let all = desk.passages();
    let one = all.iter().find(|one| one["id"] == number).expect("there");
    assert_eq!((&one["end"], &one["note"]), (&"2026-05-01T06:00:00Z".into(), &"Wind against the tide.".into()));
    assert!(one["name"].as_str().expect("text").contains("Night watch"));
    desk.told(&["passages", "remove", &id]);
    assert!(desk.passages().iter().all(|one| one["id"] != number));
}

#[test]
fn what_cannot_be_is_refused_with_its_reason() {
    let desk = sailed();
    let refused: [(&[&str], &str); 7] = [
        (&["passages", "mark", "2026-05-01 08:00", "2026-05-01 07:00"], "before"),
        (&["passages", "mark", "noon", "2026-05-01 07:00"], "BEGIN"),
        (&["passages", "mark", "2025-05-01", "2025-05-02"], "no samples"),
        (&["passages", "name", "77", "Out"], "no passage 77"),
        (&["passages", "merge", "1"], "2"),
        (&["passages", "ends", "1"], "--begin"),
        (&["passages", "--bank", "drive"], "house"),
    ];
    for (arguments, said) in refused {
        let output = desk.run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", text(&output.stderr));
        assert!(text(&output.stderr).contains(said), "{arguments:?}: {}", text(&output.stderr));
    }
    let none = Desk::new().run(&["passages"]);
    assert_eq!(none.status.code(), Some(69), "no store");
}

#[test]
fn a_copy_can_be_read_without_a_configuration() {
    let desk = sailed();
    desk.told(&["passages", "mark", "2026-05-01 03:00", "2026-05-01 06:00", "--name", "Out"]);
    std::fs::rename(desk.path("taffrail.toml"), desk.path("away.toml")).expect("ours");
    let table = desk.told(&["passages", "--store", "data/taffrail.sqlite"]);
    assert!(table.contains("house: passages") && table.contains("Out"), "{table}");
}
