//! `[[bank]]`: the description of a bank.

use super::passages;
use super::section::Section;
use crate::battery::{Bank, BankError, Chemistry, Range, Rate, TemperatureLaw};
use crate::passage::Rules;
use crate::reckoning::Method;

/// Reads one bank, how it is reckoned, and what makes a passage of it; `None` if a necessary fact is missing or wrong (noted).
pub fn read(section: &Section<'_>) -> Option<(Bank, Method, Rules)> {
    let name = section.required("name", section.text("name"), "a short name");
    let chemistry = section.required(
        "chemistry",
        section.word::<Chemistry>("chemistry"),
        "one of lead-carbon, agm, gel, flooded, lfp, nmc",
    );
    let cells = section.required(
        "cells-in-series",
        section.whole_in("cells-in-series", 1, 1000),
        "the number of cells in the string",
    );
    let capacity = section.number_in("rated-capacity-ah", 0.1, 1e6, "0.1 to 1000000 Ah");
    let capacity = section.required("rated-capacity-ah", capacity, "the capacity on the data sheet, Ah");
    let hours = section.number_in("rated-hours", 0.5, 240.0, "0.5 to 240 h");
    let hours = if section.has("rated-hours") { hours } else { Some(DEFAULT_RATED_HOURS) };
    let name = name.filter(|name| name_is_short(section, name));
    // Read the rest before giving up, so that its mistakes are told in the same go.
    let method = section.word("method").unwrap_or(DEFAULT_METHOD);
    let rest = Rest::read(section);
    let thresholds = passages::read(section);
    let mut bank = match Bank::new(&name?, chemistry?, cells?, capacity?, hours?) {
        Ok(bank) => bank,
        Err(error) => {
            complain(section, &error);
            return None;
        }
    };
    rest.apply(section, &mut bank);
    let rules = thresholds.over(Rules::of(&bank));
    Some((bank, method, rules))
}

/// How a bank is reckoned where nothing is said.
pub const DEFAULT_METHOD: Method = Method::Filter;

/// Hours of a rating where none are stated: the 20 h rate is usual (common practice, no source).
const DEFAULT_RATED_HOURS: f64 = 20.0;

fn name_is_short(section: &Section<'_>, name: &str) -> bool {
    let good = !name.is_empty()
        && name.len() <= 32
        && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-');
    if !good {
        section.complain(
            "name",
            format!("is \"{name}\", expected lower-case letters, digits and hyphens, at most 32 (title is for people)"),
        );
    }
    good
}

/// What a bank may say beyond the necessary.
struct Rest {
    title: Option<String>,
    reserve: Option<f64>,
    gain_error: Option<f64>,
    offset_a: Option<f64>,
    exponent: Option<f64>,
    rates: Option<Vec<Rate>>,
    law: Option<TemperatureLaw>,
    standing_load_a: Option<f64>,
    voltage_range: Option<Range>,
    current_range: Option<Range>,
    full: Full,
}

#[derive(Default)]
struct Full {
    voltage_v: Option<f64>,
    compensation_v_per_k: Option<f64>,
    tail_current_a: Option<f64>,
    hold_s: Option<f64>,
}

impl Rest {
    fn read(section: &Section<'_>) -> Rest {
        let rest = Rest {
            title: section.text("title"),
            reserve: section.number_in("reserve", 0.0, 0.95, "a ratio from 0 to 0.95"),
            gain_error: section.number_in("sensor-gain-error", 0.0, 0.2, "a ratio from 0 to 0.2 (1 σ)"),
            offset_a: section.number_in("sensor-offset-a", 0.0, 100.0, "0 to 100 A (1 σ)"),
            exponent: section.number_in("peukert-exponent", 1.0, 1.6, "1.0 to 1.6"),
            rates: read_rates(section),
            law: section.word("temperature-law"),
            standing_load_a: section.number_in("standing-load-a", 0.0, 1000.0, "0 to 1000 A"),
            voltage_range: read_range(section, "voltage-range-v"),
            current_range: read_range(section, "current-range-a"),
            full: read_full(section),
        };
        if rest.exponent.is_some() && rest.rates.is_some() {
            section.complain("peukert-exponent", "give either rates or peukert-exponent, not both");
        }
        rest
    }

    fn apply(self, section: &Section<'_>, bank: &mut Bank) {
        set(&mut bank.title, self.title);
        set(&mut bank.reserve, self.reserve);
        set(&mut bank.sensor.gain, self.gain_error);
        set(&mut bank.sensor.offset_a, self.offset_a);
        set(&mut bank.temperature_law, self.law);
        set(&mut bank.standing_load_a, self.standing_load_a);
        set(&mut bank.plausible_voltage_v, self.voltage_range);
        set(&mut bank.plausible_current_a, self.current_range);
        set(&mut bank.full.voltage_v, self.full.voltage_v);
        set(&mut bank.full.compensation_v_per_k, self.full.compensation_v_per_k);
        set(&mut bank.full.tail_current_a, self.full.tail_current_a);
        set(&mut bank.full.hold_s, self.full.hold_s);
        let curve = match (self.rates, self.exponent) {
            (Some(rates), _) => bank.set_rates(&rates),
            (None, Some(exponent)) => bank.set_peukert_exponent(exponent),
            (None, None) => Ok(()),
        };
        if let Err(error) = curve {
            complain(section, &error);
        }
    }
}

pub(super) fn set<T>(slot: &mut T, given: Option<T>) {
    if let Some(value) = given {
        *slot = value;
    }
}

fn complain(section: &Section<'_>, error: &BankError) {
    let key = match error {
        BankError::OutOfRange { key, .. } => key,
        BankError::Rates(_) => "rates",
    };
    section.complain(key, error.to_string());
}

fn read_rates(section: &Section<'_>) -> Option<Vec<Rate>> {
    let entries = section.tables("rates");
    let mut rates = Vec::with_capacity(entries.len());
    for entry in entries {
        let hours = entry.required(
            "hours",
            entry.number_in("hours", 0.05, 1000.0, "0.05 to 1000 h"),
            "the hours of the discharge",
        );
        let ah = entry.number_in("capacity-ah", 0.01, 1e6, "a positive number of Ah");
        let ah = entry.required("capacity-ah", ah, "the charge given, Ah");
        entry.finish();
        if let (Some(hours), Some(capacity_ah)) = (hours, ah) {
            rates.push(Rate { hours, capacity_ah });
        }
    }
    (!rates.is_empty()).then_some(rates)
}

fn read_range(section: &Section<'_>, key: &'static str) -> Option<Range> {
    match section.numbers(key)?[..] {
        [low, high] if low < high => Some(Range { low, high }),
        _ => {
            section.complain(key, "expected [lowest, highest]");
            None
        }
    }
}

fn read_full(section: &Section<'_>) -> Full {
    let Some(full) = section.table("full") else {
        return Full::default();
    };
    let read = Full {
        voltage_v: full.number_in("voltage-v", 0.5, 2000.0, "0.5 to 2000 V, for the whole string at 25 °C"),
        // The range is that of practice for lead, -3 to -5 mV a cell and kelvin; zero for lithium.
        compensation_v_per_k: full.number_in(
            "compensation-v-per-k",
            -6.0,
            0.0,
            "a negative number of V/K for the whole string, or 0",
        ),
        tail_current_a: full.number_in("tail-current-a", 0.001, 10_000.0, "0.001 to 10000 A"),
        hold_s: full.number_in("hold-s", 0.0, 86_400.0, "0 to 86400 s"),
    };
    full.finish();
    read
}
