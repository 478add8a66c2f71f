//! Bank descriptions as the data's READMEs give them: what a builder would write down, nothing learned from the traces.

use taffrail::battery::{Bank, Chemistry, Rate, SensorError};

use crate::support::fixture::reference_rates;

/// Sensor errors as the accuracy table has them, 1 σ.
const SHUNT: SensorError = SensorError { gain: 0.005, offset_a: 0.05 };
/// A laboratory cycler on one cell, 1 σ (assumed).
const CYCLER: SensorError = SensorError { gain: 0.001, offset_a: 0.002 };

/// The banks of `physics_truth`, by the word in the names of its traces.
pub const PHYSICS: [&str; 3] = ["lead", "lfp_a", "lfp_b"];

/// A bank of `physics_truth`.
pub fn physics(word: &str) -> Bank {
    match word {
        "lead" => lead(&[(9.75, 117.0), (4.70, 112.7), (1.73, 103.7), (0.774, 92.8)]),
        "lfp_a" => lithium(&[(9.9, 277.6), (4.9, 273.0), (1.85, 259.3), (0.85, 236.9)]),
        "lfp_b" => lithium(&[(9.9, 279.3), (4.9, 277.9), (1.85, 273.9), (0.85, 267.0)]),
        other => panic!("no bank {other}"),
    }
}

/// A bank of the project's own generator, rates as its tables of capacity give them.
pub fn own(word: &str) -> Bank {
    match word {
        "lead" => lead(&reference_rates(word)),
        "lfp" => lithium(&reference_rates(word)),
        other => panic!("no bank {other}"),
    }
}

/// One LFP 26650 cell on a laboratory cycler.
pub fn cell() -> Bank {
    described(Chemistry::Lfp, 1, 2.5, &[], CYCLER)
}

/// The 12 V VRLA unit, rated as the data sheet does (17 Ah) or as measured when new.
pub fn vrla(rated_ah: f64) -> Bank {
    described(Chemistry::Agm, 6, rated_ah, &[], SensorError { gain: 0.005, offset_a: 0.01 })
}

/// The same bank described as having 1/`ratio` of its capacity at every rate, so that it truly holds `ratio` of its rating.
pub fn overrated(bank: &Bank, ratio: f64) -> Bank {
    let listed_hours = [10.0, 5.0, 2.0, 1.0];
    let rates = listed_hours.map(|hours| (hours, capacity_at_hours(bank, hours) / ratio));
    described(bank.chemistry, bank.cells_in_series, bank.rated_capacity_ah / ratio, &rates, bank.sensor)
}

/// Charge that a full bank gives when it is emptied in so many hours, Ah, by its own description (bisection on the load).
fn capacity_at_hours(bank: &Bank, hours: f64) -> f64 {
    let (mut low_a, mut high_a) = (0.0, 2.0 * bank.rated_capacity_ah / hours);
    for _ in 0..60 {
        let load_a = f64::midpoint(low_a, high_a);
        let lasts_h = bank.rate_curve.capacity_ratio(load_a / bank.rated_capacity_ah) * bank.rated_capacity_ah / load_a;
        if lasts_h > hours { low_a = load_a } else { high_a = load_a }
    }
    low_a * hours
}

fn lead(rates: &[(f64, f64)]) -> Bank {
    described(Chemistry::LeadCarbon, 24, 120.0, rates, SHUNT)
}

fn lithium(rates: &[(f64, f64)]) -> Bank {
    described(Chemistry::Lfp, 16, 280.0, rates, SHUNT)
}

fn described(chemistry: Chemistry, cells: u32, rated_ah: f64, rates: &[(f64, f64)], sensor: SensorError) -> Bank {
    let mut bank = Bank::new("trial", chemistry, cells, rated_ah, 20.0).expect("a possible bank");
    if !rates.is_empty() {
        let rates: Vec<Rate> = rates.iter().map(|&(hours, capacity_ah)| Rate { hours, capacity_ah }).collect();
        bank.set_rates(&rates).expect("a falling table");
    }
    bank.sensor = sensor;
    bank
}
