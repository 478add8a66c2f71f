//! Every sample comes out, in every format, with the sums that the store itself gives.

use std::path::Path;

use taffrail::clock::{Trust, WallReading};
use taffrail::quantity::{Channel, Moment, MonoMs, Sample, UtcMs};
use taffrail::store::{BootKind, Options, Reader, SeriesKind, SeriesSpec, Writer};

use super::{export, python, read};

/// 2026-04-29T20:00:00Z: two days later it is May.
const START: i64 = 1_777_492_800_000;
const SAMPLES: i64 = 25_000;

/// Two banks: one with a shunt that reports each 10 s for three days, one with a shunt that says nothing of the
/// temperature. Returns the sums of current and voltage.
fn make(path: &Path) -> (f64, f64) {
    let mut writer = Writer::open(path, Options::default()).expect("opens");
    let boot = writer.begin_boot("a boot", BootKind::Live).expect("begins");
    let wall = WallReading { mono: MonoMs(0), utc: UtcMs(START), trust: Trust::Synchronised };
    writer.clock_fix(boot, wall, "first").expect("notes");
    let mut series = |bank: &str, name: &str, channels: &[&str]| {
        let channels = channels.iter().map(|name| Channel::try_new(name).expect("a name")).collect();
        let spec =
            SeriesSpec { name: name.into(), kind: SeriesKind::Device, bank: bank.into(), channels, gap_ms: 30_000 };
        writer.series(&spec).expect("a series")
    };
    let house = series("house", "house-shunt", &["voltage_v", "current_a", "temperature_c"]);
    let drive = series("drive", "drive-shunt", &["voltage_v", "current_a"]);
    let (mut current_sum, mut voltage_sum) = (0.0, 0.0);
    for n in 1..=SAMPLES {
        let phase = n as f64 / 700.0;
        let current_a = (1000.0 * (4.0 - 9.0 * phase.sin())).round() / 1000.0;
        let voltage_v = (1000.0 * (26.4 + 0.1 * phase.cos())).round() / 1000.0;
        let at = Moment { boot, mono: MonoMs(10_000 * n) };
        let temperature_c = (n % 7 != 0).then_some(18.5);
        writer
            .append(house, &Sample { at, values: vec![Some(voltage_v), Some(current_a), temperature_c] })
            .expect("taken");
        writer
            .append(drive, &Sample { at, values: vec![Some(2.0 * voltage_v), Some(0.5 * current_a)] })
            .expect("taken");
        current_sum += 1.5 * current_a;
        voltage_sum += 3.0 * voltage_v;
    }
    writer.close().expect("closes");
    (current_sum, voltage_sum)
}

#[test]
fn engines_read_every_sample_in_every_format() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let store = dir.path().join("marigold.sqlite");
    let (current_a, voltage_v) = make(&store);
    let path = |name: &str| dir.path().join(name).to_str().expect("text").to_owned();
    let (folder, csv, lines) = (path("files/"), path("samples.csv"), path("samples.jsonl"));
    for (format, out) in [("parquet", &folder), ("csv", &csv), ("json", &lines)] {
        let said = export(&["samples", "--store", &path("marigold.sqlite"), "--format", format, "--out", out]);
        assert!(said.contains("50000 rows of samples written"), "{said}");
    }
    let Some(python) = python() else { return };
    let found = read(&python, &["samples", &folder, &csv, &lines]);
    for engine in [
        "duckdb parquet",
        "duckdb csv",
        "duckdb json",
        "pandas parquet",
        "pandas csv",
        "pandas json",
        "pyarrow parquet",
    ] {
        let figures = &found[engine];
        assert_eq!(figures["rows"], 2 * SAMPLES, "{engine}: {found}");
        assert!((figures["current_a"].as_f64().expect("a sum") - current_a).abs() < 1e-3, "{engine}: {found}");
        assert!((figures["voltage_v"].as_f64().expect("a sum") - voltage_v).abs() < 1e-3, "{engine}: {found}");
        assert_eq!(figures["first_ms"], START + 10_000, "{engine}");
        assert_eq!(figures["last_ms"], START + 10_000 * SAMPLES, "{engine}");
    }
    let partitions = ["unnamed/drive/2026/4", "unnamed/drive/2026/5", "unnamed/house/2026/4", "unnamed/house/2026/5"];
    assert_eq!(found["partitions"], serde_json::json!(partitions));
    assert_eq!(found["types"]["utc"], "timestamp[ms, tz=UTC]");
    assert_eq!(found["types"]["clock_believed"], "bool");
}

#[test]
fn the_charge_of_the_days_is_that_of_the_store() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let store = dir.path().join("marigold.sqlite");
    make(&store);
    let out = dir.path().join("days.csv");
    let (store_name, out_name) = (store.to_str().expect("text"), out.to_str().expect("text"));
    export(&["summary", "--store", store_name, "--bank", "house", "--out", out_name]);
    let mut rows = csv::Reader::from_path(&out).expect("opens");
    let head = rows.headers().expect("a header").clone();
    let place = |name: &str| head.iter().position(|column| column == name).expect("the column");
    let sum = |rows: &[csv::StringRecord], name: &str| -> f64 {
        rows.iter().map(|row| row[place(name)].parse::<f64>().expect("a number")).sum()
    };
    let rows: Vec<_> = rows.records().map(|row| row.expect("a row")).collect();
    let reader = Reader::open(&store).expect("opens");
    let main = reader.all_series().expect("reads").into_iter().find(|series| series.bank == "house").expect("there");
    let sums = reader.sums(main.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("sums");
    assert!((sum(&rows, "charge_in_ah") - sums.charge_in_ah).abs() < 1e-6);
    assert!((sum(&rows, "charge_out_ah") - sums.charge_out_ah).abs() < 1e-6);
    assert!((sum(&rows, "energy_out_wh") - sums.energy_out_wh).abs() < 1e-6);
    assert!((sum(&rows, "covered_s") - sums.covered_s).abs() < 1e-6);
}

#[test]
fn a_file_that_is_there_is_replaced_only_when_told_so() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let store = dir.path().join("marigold.sqlite");
    make(&store);
    let store = store.to_str().expect("text");
    let out = dir.path().join("days.csv");
    std::fs::write(&out, "mine").expect("writes");
    let out_name = out.to_str().expect("text");
    let run = |more: &[&str]| {
        let mut command = assert_cmd::Command::cargo_bin("taffrail").expect("built");
        command.args(["export", "summary", "--store", store, "--out", out_name]).args(more).output().expect("runs")
    };
    let refused = run(&[]);
    assert_eq!(refused.status.code(), Some(2));
    assert!(String::from_utf8_lossy(&refused.stderr).contains("is there already"));
    assert_eq!(std::fs::read_to_string(&out).expect("there"), "mine");
    assert!(run(&["--force"]).status.success());
    assert!(std::fs::read_to_string(&out).expect("there").starts_with("bank,day,start_utc,"));
    // The same for a folder: twice the same month would be twice the charge.
    let folder = dir.path().join("files/");
    let folder = format!("{}/", folder.to_str().expect("text").trim_end_matches('/'));
    let run = |more: &[&str]| {
        let mut command = assert_cmd::Command::cargo_bin("taffrail").expect("built");
        let command = command.args(["export", "summary", "--store", store, "--format", "parquet", "--out", &folder]);
        command.args(more).output().expect("runs").status.code()
    };
    assert_eq!((run(&[]), run(&[]), run(&["--force"])), (Some(0), Some(2), Some(0)));
}
