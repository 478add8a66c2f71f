//! How wrong the counter is on physics-based truth: `cargo run --release --example counter_accuracy`.
//!
//! Prints a table, trace by trace, for a sensor that errs by +0.5 % and +50 mA and for one that errs the other way
//! (10 mA and 10 mV steps). Truth: PyBaMM, see `physics_truth/README.md` of the shared data. It is a yardstick for
//! better methods, not a pass mark.

#[path = "../support/mod.rs"]
mod support;

use std::path::Path;

use support::{TruthRow, read_truth, shared_data};
use taffrail::battery::{Bank, Chemistry, Rate, SensorError};
use taffrail::quantity::Reading;
use taffrail::reckoning::{Method, Reckoner, Start};

/// Bank descriptions as the data's README gives them: chemistry, cells, capacity, and the data sheet's rates.
fn banks() -> Vec<(&'static str, Bank)> {
    let lead: &[(f64, f64)] = &[(9.75, 117.0), (4.70, 112.7), (1.73, 103.7), (0.774, 92.8)];
    let lfp_a: &[(f64, f64)] = &[(9.9, 277.6), (4.9, 273.0), (1.85, 259.3), (0.85, 236.9)];
    let lfp_b: &[(f64, f64)] = &[(9.9, 279.3), (4.9, 277.9), (1.85, 273.9), (0.85, 267.0)];
    [
        ("lead", Chemistry::LeadCarbon, 24, 120.0, lead),
        ("lfp_a", Chemistry::Lfp, 16, 280.0, lfp_a),
        ("lfp_b", Chemistry::Lfp, 16, 280.0, lfp_b),
    ]
    .map(|(name, chemistry, cells, rated_ah, rates)| {
        let mut bank = Bank::new(name, chemistry, cells, rated_ah, 20.0).expect("a possible bank");
        let rates: Vec<Rate> = rates.iter().map(|&(hours, capacity_ah)| Rate { hours, capacity_ah }).collect();
        bank.set_rates(&rates).expect("a falling table");
        bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
        (name, bank)
    })
    .into()
}

/// What a shunt with these errors reports: gain, offset, 10 mA and 10 mV steps.
fn through_shunt(reading: Reading, gain: f64, offset_a: f64) -> Reading {
    let step = |value: f64, step: f64| (value / step).round() * step;
    Reading {
        current_a: step(reading.current_a * (1.0 + gain) + offset_a, 0.01),
        voltage_v: step(reading.voltage_v, 0.01),
        ..reading
    }
}

#[derive(Default)]
struct Score {
    rows: f64,
    square_error: f64,
    greatest: f64,
    inside: f64,
    half_width: f64,
}

impl Score {
    fn add(&mut self, truth: f64, state: &taffrail::reckoning::Reckoned) {
        let error = state.soc - truth;
        self.rows += 1.0;
        self.square_error += error * error;
        self.greatest = self.greatest.max(error.abs());
        self.inside += f64::from(u8::from((state.soc_band.low..=state.soc_band.high).contains(&truth)));
        self.half_width += state.soc_band.width() / 2.0;
    }
}

fn score(bank: &Bank, rows: &[TruthRow], sign: f64) -> Score {
    let first = rows.first().and_then(|row| row.soc).unwrap_or(1.0);
    let start = if first > 0.99 { Start::Full } else { Start::At(first) };
    let mut reckoner = Reckoner::begin(Method::Counter, bank.clone(), start);
    let mut score = Score::default();
    for row in rows {
        reckoner.step(&through_shunt(row.reading, 0.005 * sign, 0.05 * sign));
        if let Some(truth) = row.soc {
            score.add(truth, &reckoner.report());
        }
    }
    score
}

fn traces_of(folder: &Path, bank: &str) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the folder was there a moment ago")
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok())
        .filter(|name| name.ends_with(".csv.gz"))
        .filter(|name| {
            let stem = name.trim_end_matches(".csv.gz");
            stem.ends_with(&format!("_{bank}")) || stem.contains(&format!("hard_run_{bank}_"))
        })
        .collect();
    names.sort();
    names
}

#[expect(clippy::print_stdout, reason = "a bench program prints its table")]
fn main() {
    let Some(folder) = shared_data("physics_truth") else {
        return;
    };
    println!("counter, % of state of charge        sensor +0.5 % +50 mA            sensor -0.5 % -50 mA");
    println!(
        "{:<26}  {:>6} {:>6} {:>7} {:>6}   {:>6} {:>6} {:>7} {:>6}",
        "trace", "RMS", "max", "inside", "±", "RMS", "max", "inside", "±"
    );
    for (name, bank) in banks() {
        for trace in traces_of(&folder, name) {
            let rows = read_truth(&folder.join(&trace), ["t_s", "voltage_v", "current_a", "temperature_c", "true_soc"]);
            let cells: Vec<String> = [1.0, -1.0]
                .into_iter()
                .map(|sign| {
                    let s = score(&bank, &rows, sign);
                    let rms = (s.square_error / s.rows).sqrt();
                    format!(
                        "{:>6.1} {:>6.1} {:>6.0}% {:>6.1}",
                        100.0 * rms,
                        100.0 * s.greatest,
                        100.0 * s.inside / s.rows,
                        100.0 * s.half_width / s.rows
                    )
                })
                .collect();
            println!("{:<26}  {}", trace.trim_end_matches(".csv.gz"), cells.join("   "));
        }
    }
}
