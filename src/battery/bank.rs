//! The description of a bank: what its builder knows, the chemistry's preset where nothing was said.

use super::charging::FullRule;
use super::chemistry::Chemistry;
use super::peukert::RateCurve;
use super::preset::{Preset, Range};
use super::temperature::TemperatureLaw;

/// A capacity from a data sheet: what the bank gives when it is emptied in so many hours at 25 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rate {
    /// Hours to the cut-off.
    pub hours: f64,
    /// Charge given, Ah.
    pub capacity_ah: f64,
}

/// Errors of the current sensor, 1 σ each.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SensorError {
    /// Of the gain, ratio.
    pub gain: f64,
    /// Of the offset, A.
    pub offset_a: f64,
}

/// A bank, complete: every value is set, by its builder or by the preset.
#[derive(Debug, Clone, PartialEq)]
pub struct Bank {
    /// Short name, as in file names and addresses.
    pub name: String,
    /// Name for people.
    pub title: String,
    /// Cell chemistry.
    pub chemistry: Chemistry,
    /// Cells in series.
    pub cells_in_series: u32,
    /// Capacity at [`Self::rated_hours`] and 25 °C, Ah.
    pub rated_capacity_ah: f64,
    /// Hours of the rating.
    pub rated_hours: f64,
    /// Capacity against rate.
    pub rate_curve: RateCurve,
    /// State of charge that the skipper wants kept, 0..1.
    pub reserve: f64,
    /// Errors of the current sensor.
    pub sensor: SensorError,
    /// When the bank counts as full.
    pub full: FullRule,
    /// Law for what temperature does to the deliverable charge.
    pub temperature_law: TemperatureLaw,
    /// Greatest load that could run while nobody looks, A (≥ 0).
    pub standing_load_a: f64,
    /// Readings of the bank voltage outside this are refused, V.
    pub plausible_voltage_v: Range,
    /// Readings of the current outside this are refused, A.
    pub plausible_current_a: Range,
}

/// A bank description that cannot be.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum BankError {
    /// A key's value lies outside what is possible.
    #[error("{key} = {value}: expected {expected}")]
    OutOfRange {
        /// The key in the configuration.
        key: &'static str,
        /// The value given.
        value: f64,
        /// What would be right.
        expected: &'static str,
    },
    /// The table of rates is no capacity curve.
    #[error("rates: {0}")]
    Rates(&'static str),
}

impl Bank {
    /// A bank with its necessary facts; the rest from the preset, to be overwritten field by field.
    ///
    /// # Errors
    /// [`BankError`] for a value that is impossible.
    pub fn new(
        name: &str,
        chemistry: Chemistry,
        cells_in_series: u32,
        rated_capacity_ah: f64,
        rated_hours: f64,
    ) -> Result<Bank, BankError> {
        require("cells-in-series", f64::from(cells_in_series), 1.0, 1000.0, "1 to 1000")?;
        require("rated-capacity-ah", rated_capacity_ah, 0.1, 1e6, "0.1 to 1000000 Ah")?;
        require("rated-hours", rated_hours, 0.5, 240.0, "0.5 to 240 hours")?;
        let preset = chemistry.preset();
        let cells = f64::from(cells_in_series);
        Ok(Bank {
            name: name.to_owned(),
            title: name.to_owned(),
            chemistry,
            cells_in_series,
            rated_capacity_ah,
            rated_hours,
            rate_curve: RateCurve::from_exponent(
                rated_hours,
                preset.peukert_exponent,
                preset.peukert_std_dev,
                preset.peukert_floor_c_rate,
            ),
            reserve: DEFAULT_RESERVE,
            sensor: SensorError { gain: GAIN_ERROR, offset_a: tidy(OFFSET_RATIO * rated_capacity_ah) },
            full: FullRule {
                voltage_v: tidy(preset.full.voltage_per_cell_v * cells),
                compensation_v_per_k: tidy(preset.full.compensation_v_per_k * cells),
                tail_current_a: tidy(preset.full.tail_ratio * rated_capacity_ah),
                hold_s: preset.full.hold_s,
                soc_std_dev: preset.full.soc_std_dev,
            },
            temperature_law: TemperatureLaw::default_for(chemistry.family()),
            standing_load_a: tidy(STANDING_LOAD_RATIO * rated_capacity_ah),
            plausible_voltage_v: Range {
                low: preset.plausible_cell_v.low * cells,
                high: preset.plausible_cell_v.high * cells,
            },
            plausible_current_a: Range {
                low: -PLAUSIBLE_C_RATE * rated_capacity_ah,
                high: PLAUSIBLE_C_RATE * rated_capacity_ah,
            },
        })
    }

    /// Sets the curve of capacity against rate from a Peukert exponent.
    ///
    /// # Errors
    /// [`BankError`] outside 1 to 1.6 (1.2 to 1.6 is the band for flooded cells, the highest of all).
    pub fn set_peukert_exponent(&mut self, exponent: f64) -> Result<(), BankError> {
        require("peukert-exponent", exponent, 1.0, 1.6, "1.0 to 1.6")?;
        let preset = self.preset();
        self.rate_curve = RateCurve::from_exponent(
            self.rated_hours,
            exponent,
            preset.peukert_std_dev / 2.0,
            preset.peukert_floor_c_rate,
        );
        Ok(())
    }

    /// Sets the curve from a data sheet's capacities; the rated one is added.
    ///
    /// # Errors
    /// [`BankError`] if hours repeat or a faster discharge gives more charge.
    pub fn set_rates(&mut self, rates: &[Rate]) -> Result<(), BankError> {
        let mut table: Vec<(f64, f64)> = Vec::with_capacity(rates.len() + 1);
        for rate in rates {
            require("rates hours", rate.hours, 0.05, 1000.0, "0.05 to 1000 hours")?;
            require("rates capacity-ah", rate.capacity_ah, 0.01, 1e6, "a positive number of Ah")?;
            table.push((rate.hours, rate.capacity_ah));
        }
        if !table.iter().any(|&(hours, _)| (hours - self.rated_hours).abs() < 1e-9) {
            table.push((self.rated_hours, self.rated_capacity_ah));
        }
        table.sort_by(|a, b| a.0.total_cmp(&b.0));
        for pair in table.windows(2) {
            if pair[1].0 - pair[0].0 < 1e-9 {
                return Err(BankError::Rates("two entries have the same hours"));
            }
            if pair[1].1 < pair[0].1 || pair[1].1 / pair[1].0 >= pair[0].1 / pair[0].0 {
                return Err(BankError::Rates(
                    "a slower discharge must give at least as much charge, at a lower current",
                ));
            }
        }
        self.rate_curve = RateCurve::from_table(self.rated_capacity_ah, &table);
        Ok(())
    }

    /// Whether nothing was said of how the bank takes to rates, so that its curve is the chemistry's usual one.
    #[must_use]
    pub fn takes_rates_of_preset(&self) -> bool {
        Bank::new(&self.name, self.chemistry, self.cells_in_series, self.rated_capacity_ah, self.rated_hours)
            .is_ok_and(|preset| preset.rate_curve == self.rate_curve)
    }

    /// The chemistry's constants.
    #[must_use]
    pub const fn preset(&self) -> &'static Preset {
        self.chemistry.preset()
    }

    /// Charge that a full bank gives at a steady load before its cut-off, Ah.
    ///
    /// `load_a` is the size of the discharge current (≥ 0).
    #[must_use]
    pub fn deliverable_when_full_ah(&self, load_a: f64, temperature_c: f64) -> f64 {
        let c_rate = load_a / self.rated_capacity_ah;
        let at_25 = self.rate_curve.capacity_ratio(c_rate) * self.rated_capacity_ah;
        let hours = if load_a > 0.0 { at_25 / load_a } else { f64::INFINITY };
        at_25 * self.temperature_law.capacity_factor(temperature_c, hours)
    }
}

/// 1 σ of the sensor's gain where none is set: twice the usual tolerance of a shunt, 0.25 % (read: shunt makers' answers
/// to common questions), for the amplifier behind it (assumed).
const GAIN_ERROR: f64 = 0.005;
/// 1 σ of the sensor's offset where none is set, part of the rated capacity per hour: 48 mA on 120 Ah (assumed).
const OFFSET_RATIO: f64 = 0.000_4;
/// Reserve where none is set: the lowest fifth (common practice, no source).
const DEFAULT_RESERVE: f64 = 0.20;
/// Worst standing load where none is set, part of the rated capacity per hour (assumed: 0.6 A on 120 Ah).
const STANDING_LOAD_RATIO: f64 = 0.005;
/// No bank of these chemistries is read beyond this rate, A per Ah (assumed; a dead short is for the fuse).
const PLAUSIBLE_C_RATE: f64 = 20.0;

/// Rounds to six decimals, far below any sensor, so that a derived setting reads as a person would write it.
pub(crate) fn tidy(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

fn require(key: &'static str, value: f64, low: f64, high: f64, expected: &'static str) -> Result<(), BankError> {
    if value.is_finite() && (low..=high).contains(&value) {
        Ok(())
    } else {
        Err(BankError::OutOfRange { key, value, expected })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::compensated_voltage;

    fn drive() -> Bank {
        Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("a possible bank")
    }

    #[test]
    fn what_is_not_said_comes_from_the_chemistry() {
        let bank = drive();
        assert!((bank.full.voltage_v - 56.4).abs() < 1e-9);
        assert!((bank.full.tail_current_a - 3.6).abs() < 1e-9);
        let rule = bank.full;
        assert!((compensated_voltage(rule.voltage_v, rule.compensation_v_per_k, 35.0) - (56.4 - 0.72)).abs() < 1e-9);
    }

    #[test]
    fn impossible_banks_are_refused_with_the_key() {
        let error = Bank::new("x", Chemistry::Lfp, 0, 100.0, 20.0).expect_err("no cells");
        assert_eq!(error.to_string(), "cells-in-series = 0: expected 1 to 1000");
        let mut bank = drive();
        assert!(bank.set_peukert_exponent(0.9).is_err());
        assert!(bank.set_rates(&[Rate { hours: 10.0, capacity_ah: 130.0 }]).is_err());
        assert!(bank.set_rates(&[Rate { hours: 1.0, capacity_ah: f64::NAN }]).is_err());
    }

    #[test]
    fn a_hard_load_in_the_cold_gets_less() {
        let mut bank = drive();
        bank.set_rates(&[Rate { hours: 10.0, capacity_ah: 117.0 }, Rate { hours: 1.0, capacity_ah: 93.0 }])
            .expect("a falling table");
        assert!((bank.deliverable_when_full_ah(93.0, 25.0) - 93.0).abs() < 1e-9);
        assert!(bank.deliverable_when_full_ah(93.0, 5.0) < 80.0);
        assert!((bank.deliverable_when_full_ah(0.0, 25.0) - 120.0).abs() < 1e-9);
    }
}
