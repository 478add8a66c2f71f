//! The documented query over the exports of two hundred boats. The boats are invented; what is checked is that the files of
//! many boats are one data set, and that the query finds the fade that was put in.

use std::path::Path;

use taffrail::clock::{Trust, WallReading};
use taffrail::health::{CapacityFinding, Finding, Span, Watched};
use taffrail::quantity::{Channel, Estimate, Moment, MonoMs, UtcMs};
use taffrail::store::{BootKind, Options, SeriesKind, SeriesSpec, SurveyBatch, SurveyState, Writer};

use super::{export, python, read};

const BOATS: u32 = 200;
/// 2020-01-01T00:00:00Z.
const START: i64 = 1_577_836_800_000;
const MONTH_MS: i64 = 30 * 86_400_000;
/// Chemistry, rated capacity, and fade a year.
const KINDS: [(&str, f64, f64); 3] = [("lead-carbon", 120.0, -0.021), ("agm", 200.0, -0.045), ("lfp", 280.0, -0.013)];

fn boat(folder: &Path, number: u32) {
    let (chemistry, rated_ah, fade) = KINDS[(number % 3) as usize];
    let dir = folder.join(format!("boat-{number}"));
    std::fs::create_dir_all(dir.join("data")).expect("a folder");
    let text = format!(
        "boat = \"Boat {number}\"\ndata-dir = \"data\"\n[[bank]]\nname = \"house\"\nchemistry = \"{chemistry}\"\n\
         cells-in-series = 8\nrated-capacity-ah = {rated_ah:?}\n"
    );
    std::fs::write(dir.join("taffrail.toml"), text).expect("writes");
    let mut writer = Writer::open(&dir.join("data/taffrail.sqlite"), Options::default()).expect("opens");
    let boot = writer.begin_boot("a boot", BootKind::Live).expect("begins");
    let wall = WallReading { mono: MonoMs(0), utc: UtcMs(START), trust: Trust::Synchronised };
    writer.clock_fix(boot, wall, "first").expect("notes");
    let spec = SeriesSpec {
        name: "shunt".into(),
        kind: SeriesKind::Device,
        bank: "house".into(),
        channels: ["voltage_v", "current_a"].map(|name| Channel::try_new(name).expect("a name")).to_vec(),
        gap_ms: 10_000,
    };
    writer.series(&spec).expect("a series");
    let at = |months: i64| Moment { boot, mono: MonoMs(months * MONTH_MS) };
    let finding = |months: i64| {
        // Boats of a kind differ by up to a fifth in their fade.
        let own = fade * (0.8 + 0.4 * f64::from(number % 7) / 6.0);
        let value = rated_ah * (1.0 + own * months as f64 * 30.0 / 365.25);
        let estimate = Estimate { value, std_dev: 0.01 * rated_ah };
        Finding::Capacity(CapacityFinding {
            watched: Watched::FullToRest,
            span: Span { from: at(months - 1), to: at(months) },
            charge_ah: 0.5 * value,
            soc_fall: Estimate { value: 0.5, std_dev: 0.01 },
            load_a: 8.0,
            hours: value / 8.0,
            temperature_c: Some(20.0),
            raw_ah: estimate,
            rated_ah: estimate,
            law: "invented".into(),
            combined_ah: Some(estimate),

            corrected_ah: None,
            onward: None,
            believed: true,
        })
    };
    let batch = SurveyBatch {
        bank: "house".into(),
        state: SurveyState { at: at(36), version: 1, state: "{}".into() },
        findings: (1..=12).map(|quarter| finding(3 * quarter)).collect(),
        passages: Vec::new(),
        events: Vec::new(),
        tests: Vec::new(),
    };
    writer.keep_survey(&batch).expect("keeps");
    writer.close().expect("closes");
    let config = dir.join("taffrail.toml");
    let out = format!("{}/", folder.join("fleet").to_str().expect("text"));
    export(&["capacity", "--config", config.to_str().expect("text"), "--format", "parquet", "--out", &out]);
}

#[test]
fn fade_by_chemistry_over_two_hundred_boats() {
    let Some(python) = python() else { return };
    let dir = tempfile::tempdir().expect("a scratch directory");
    (0..BOATS).for_each(|number| boat(dir.path(), number));
    let query = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/export/fleet.sql");
    let files = dir.path().join("fleet");
    let rows = read(&python, &["fleet", query.to_str().expect("text"), files.to_str().expect("text")]);
    let rows = rows.as_array().expect("rows");
    assert_eq!(rows.len(), KINDS.len(), "{rows:?}");
    let banks: u64 = rows.iter().filter_map(|row| row["banks"].as_u64()).sum();
    assert_eq!(banks, u64::from(BOATS));
    for (chemistry, _, fade) in KINDS {
        let row = rows.iter().find(|row| row["chemistry"] == chemistry).expect("the chemistry");
        let found = row["median_fade_percent_a_year"].as_f64().expect("a fade");
        assert!((found - 100.0 * fade).abs() < 0.03 * (100.0 * fade).abs() + 0.006, "{chemistry}: {row}");
    }
}
