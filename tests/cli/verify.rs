//! `taffrail verify`: what it says, and how it ends.

use super::*;

fn imported() -> Desk {
    let desk = Desk::new();
    let rows: String = (0..3 * 3600).map(|s| format!("{s},51.{},-{}.5,20\n", s % 10, s % 7)).collect();
    desk.write("trace.csv", &format!("t_s,voltage_v,current_a,temperature_c\n{rows}"));
    let arguments =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--start", "2026-05-01T00:00:00Z", "trace.csv"];
    let output = desk.run(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    desk
}

fn sql(desk: &Desk, sql: &str) {
    let store = rusqlite::Connection::open(desk.path("data/taffrail.sqlite")).expect("a store");
    assert!(store.execute(sql, []).expect(sql) > 0);
}

#[test]
fn a_sound_store_is_said_to_be_sound_with_what_was_proved() {
    let desk = imported();
    let by_config = desk.run(&["verify", "--config", "taffrail.toml"]);
    assert_eq!(by_config.status.code(), Some(0), "{}", text(&by_config.stderr));
    let told = text(&by_config.stdout);
    assert!(
        told.contains("data/taffrail.sqlite: sound; ") && told.contains("samples proved from 2026-05-01 00:00:00 to"),
        "{told}"
    );
    assert_eq!(told.lines().count(), 1, "{told}");
    let by_name = desk.run(&["verify", "--store", "data/taffrail.sqlite"]);
    assert_eq!((by_name.status.code(), text(&by_name.stdout).contains(": sound; ")), (Some(0), true));
}

#[test]
fn what_is_damaged_is_named_line_by_line_and_ends_it_with_1() {
    let desk = imported();
    sql(&desk, "UPDATE chunk SET data = substr(data, 1, 40) WHERE first_mono_ms = 3600000");
    let output = desk.run(&["verify"]);
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    let told = text(&output.stdout);
    let line = told.lines().next().expect("a line");
    assert!(
        line.starts_with(
            "chunk of series \"house-trace\", bank \"house\", from 2026-05-01 01:00:00 to 2026-05-01 01:59:59 UTC: "
        ),
        "{told}"
    );
    assert!(told.lines().last().expect("a line").contains("data/taffrail.sqlite: not sound; "), "{told}");
    assert!(text(&output.stderr).contains("1 thing is not as it must be"), "{}", text(&output.stderr));
    sql(&desk, "UPDATE hour_summary SET count = count + 1 WHERE channel = 0 AND start_mono_ms = 0");
    let output = desk.run(&["verify"]);
    assert_eq!(text(&output.stdout).lines().filter(|line| line.contains("hour_summary")).count(), 1);
}

#[test]
fn what_is_no_store_is_told_from_a_damaged_one() {
    let desk = Desk::new();
    let missing = desk.run(&["verify", "--store", "nowhere.sqlite"]);
    assert_eq!(missing.status.code(), Some(2));
    assert!(text(&missing.stderr).contains("nowhere.sqlite: there is no such file"), "{}", text(&missing.stderr));
    rusqlite::Connection::open(desk.path("other.sqlite"))
        .and_then(|c| c.execute_batch("CREATE TABLE t (x)"))
        .expect("made");
    assert_eq!(desk.run(&["verify", "--store", "other.sqlite"]).status.code(), Some(2));
    desk.write("garbage.sqlite", &"no store ".repeat(1000));
    let garbage = desk.run(&["verify", "--store", "garbage.sqlite"]);
    assert_eq!(garbage.status.code(), Some(1), "{}", text(&garbage.stderr));
    assert!(text(&garbage.stdout).contains("file is not a database"), "{}", text(&garbage.stdout));
    assert_eq!(desk.run(&["verify", "--store", "x", "--config", "y"]).status.code(), Some(2));
}
