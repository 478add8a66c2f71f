//! `taffrail info`: the store in numbers.

use serde_json::Value;
use taffrail::quantity::UtcMs;

use super::*;

/// Three days of a row each ten minutes, of a bank at a steady load.
fn stored() -> Desk {
    let desk = Desk::new();
    let rows: String = (0..=3 * 144).map(|ten| format!("{},51.2,-6,20\n", ten * 600)).collect();
    desk.write("trace.csv", &format!("t_s,voltage_v,current_a,temperature_c\n{rows}"));
    let import =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--start", "2026-05-01T00:00:00Z", "trace.csv"];
    assert_eq!(desk.run(&import).status.code(), Some(0));
    desk
}

#[test]
fn the_numbers_belong_together() {
    let desk = stored();
    let output = desk.run(&["info", "--json", "--tables"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let info: Value = serde_json::from_slice(&output.stdout).expect("JSON");
    let number = |key: &str| info[key].as_f64().unwrap_or_else(|| panic!("{key}: {info}"));
    assert_eq!(
        (info["samples"].as_u64(), info["layout"].as_u64(), info["set_aside"].as_u64()),
        (Some(433), Some(4), Some(0))
    );
    assert_eq!((&info["first"], &info["last"]), (&"2026-05-01T00:00:00Z".into(), &"2026-05-04T00:00:00Z".into()));
    assert!((number("days") - 3.0).abs() < 1e-9);
    let file = desk.path("data/taffrail.sqlite").metadata().expect("there").len();
    assert_eq!(info["file_bytes"].as_u64(), Some(file));

    let tables = info["tables"].as_array().expect("asked for");
    let tables_bytes: f64 = tables.iter().map(|table| table["bytes"].as_f64().expect("a number")).sum();
    // The map of pages, which a small file has one of, belongs to no table.
    let used = tables_bytes + 4096.0;
    assert!((number("bytes_per_sample") - used / 433.0).abs() < 1e-6, "by table: {tables_bytes}");
    assert!(tables.iter().any(|table| table["name"] == "chunk" || table["name"] == "tail"), "{tables:?}");
    assert!((number("growth_bytes_per_day") - used / 3.0).abs() < 1e-6, "all of it came within 30 days");
    assert!((number("days_to_full") - number("free_bytes") / number("growth_bytes_per_day")).abs() < 1e-6);
    let shunt = &info["series"][0];
    assert_eq!((&shunt["bank"], &shunt["samples"]), (&"house".into(), &433.into()));
    assert_eq!(shunt["channels"], serde_json::json!(["voltage_v", "current_a", "temperature_c"]));
}

#[test]
fn a_person_reads_it_in_eighty_columns() {
    let desk = stored();
    let output = desk.run(&["info"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let told = text(&output.stdout);
    for line in told.lines() {
        assert!(line.chars().count() <= 80, "{line}");
    }
    for said in [
        "span       2026-05-01T00:00:00Z to 2026-05-04T00:00:00Z, 3.0 days",
        "samples    433 of devices, ",
        " a day, over the last 3.0 days stored",
        " on its card, full in ",
        "today, the file system's own journal not counted",
        "house / house-trace: 433 samples\n  voltage_v, current_a, temperature_c\n",
    ] {
        assert!(told.contains(said), "{said}: {told}");
    }
}

#[test]
fn bytes_written_count_for_the_day_that_their_hour_began_on_and_a_young_store_promises_nothing() {
    const DAY: i64 = 86_400_000;
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let import =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--start", "2026-05-01T00:00:00Z", "trace.csv"];
    assert_eq!(desk.run(&import).status.code(), Some(0));
    let path = desk.path("data/taffrail.sqlite");
    let store = rusqlite::Connection::open(&path).expect("opens");
    store.execute("INSERT INTO boot (no, boot_id, kind) VALUES (50, 'x', 'live')", []).expect("fits");
    store
        .execute(
            "INSERT INTO clock_fix (boot, mono_ms, utc_ms, trust, kind) VALUES (50, 0, ?1, 3, 'first')",
            [10 * DAY],
        )
        .expect("fits");
    for (hour, bytes) in [(-1, 1), (0, 10), (23, 100), (24, 1000)] {
        store.execute("INSERT INTO written VALUES (50, ?1, ?2)", [hour * 3_600_000, bytes]).expect("fits");
    }
    drop(store);
    let info = taffrail::store::info(&path, UtcMs(10 * DAY)..UtcMs(11 * DAY)).expect("reads");
    assert_eq!(info.written_bytes, Some(110));
    assert_eq!((info.device_samples(), info.growth, info.days_to_full()), (7, None, None), "an hour is too little");
}
