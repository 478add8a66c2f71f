//! Reads `tests/fixtures/reference`: model batteries whose truth is known; `tests/reference/generator` says how made.

use std::io::Read;
use std::path::{Path, PathBuf};

use taffrail::quantity::Reading;

use crate::support::{TruthRow, columns_of, truth_rows};

/// The columns of a trace, as [`super::read_truth`] takes them.
pub const TRUTH_COLUMNS: [&str; 5] = ["t_s", "voltage_v", "current_a", "temperature_c", "true_soc"];

/// Names of all traces, sorted, without `.csv.gz`.
pub fn reference_names() -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder())
        .expect("fixtures of the repository")
        .filter_map(|entry| entry.expect("an entry").file_name().to_str()?.strip_suffix(".csv.gz").map(String::from))
        .collect();
    names.sort();
    names
}

/// A trace, for instance `endurance_lead_70_c5`: rows at most 30 s apart, straight lines between them.
pub fn reference_fixture(name: &str) -> Vec<TruthRow> {
    truth_rows(columns_of(&reference_text(name), TRUTH_COLUMNS))
}

/// The same trace as a device would have sampled it: a row every `step_s` seconds, with the last row of the trace kept.
///
/// Steps that divide the grid of 10 s keep every edge, so that counting by trapezoids stays exact.
pub fn reference_fixture_every(name: &str, step_s: f64) -> Vec<TruthRow> {
    let rows = reference_fixture(name);
    let mut sampled = Vec::new();
    let mut t_s = rows[0].reading.t_s;
    for pair in rows.windows(2) {
        while t_s < pair[1].reading.t_s {
            sampled.push(between(&pair[0], &pair[1], t_s));
            t_s += step_s;
        }
    }
    sampled.extend(rows.last().copied());
    sampled
}

/// The point at `t_s` on the line between two rows.
fn between(a: &TruthRow, b: &TruthRow, t_s: f64) -> TruthRow {
    let share = (t_s - a.reading.t_s) / (b.reading.t_s - a.reading.t_s);
    let mix = |from: f64, to: f64| from + (to - from) * share;
    let mix_known = |from: Option<f64>, to: Option<f64>| from.zip(to).map(|(from, to)| mix(from, to));
    TruthRow {
        reading: Reading {
            t_s,
            voltage_v: mix(a.reading.voltage_v, b.reading.voltage_v),
            current_a: mix(a.reading.current_a, b.reading.current_a),
            temperature_c: mix_known(a.reading.temperature_c, b.reading.temperature_c),
        },
        soc: mix_known(a.soc, b.soc),
    }
}

/// Capacity by rate of `lead` or `lfp`: hours to the cut-off and Ah, slowest first (the 20-hour rate is the rating).
pub fn reference_rates(bank: &str) -> Vec<(f64, f64)> {
    let text = std::fs::read_to_string(folder().join(format!("capacity_{bank}.csv"))).expect("a fixture");
    columns_of(&text, ["hours", "capacity_ah"])
        .into_iter()
        .map(|[hours, capacity_ah]| (hours.expect("hours"), capacity_ah.expect("a capacity")))
        .collect()
}

/// The whole text of a trace, head and all.
pub fn reference_text(name: &str) -> String {
    let path = folder().join(format!("{name}.csv.gz"));
    let file = std::fs::File::open(&path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    let mut text = String::new();
    flate2::read::GzDecoder::new(file).read_to_string(&mut text).expect("gzipped text");
    text
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fixtures/reference")
}
