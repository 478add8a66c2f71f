//! The arithmetic of a capacity test, its verdict, and when the next one is due.
//!
//! Lead: IEEE 450 (vented) and IEEE 1188 (valve-regulated), as public pages and code cite them; the paid texts were not seen.
//! For a test of an hour and more the time is corrected for temperature, for a shorter one the rate. Their tables are of acid
//! and lead. For lithium there is no such table: the charge stands against the rating at that load, as it is.

use serde::{Deserialize, Serialize};

use crate::battery::{Bank, CellSizing, Chemistry, Family, TimeAdjustment};
use crate::health::capacity::TEST_REPEATS;
use crate::quantity::Estimate;

/// From this rated time on the time-adjusted method holds, h (IEEE 450, from memory).
const TIME_ADJUSTED_FROM_H: f64 = 1.0;
/// A mean temperature this far from that at the start is told, K.
const WARMED_K: f64 = 1.0;
/// A capacity below this is degraded, and a fall by more than that since the last test, in parts of the rating.
const DEGRADED_BELOW: f64 = 0.90;
const DEGRADED_BY: f64 = 0.10;
/// A capacity below this is the end.
const REPLACE_BELOW: f64 = 0.80;

/// Which way of working out a test applies.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Worked {
    /// Time, corrected for temperature.
    TimeAdjusted,
    /// Rate, corrected for temperature.
    RateAdjusted,
    /// Charge against the rating at this load, without correction for temperature.
    Plain,
}

/// What a finished test comes to. Capacities are parts of the rating.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestResult {
    /// Charge taken out up to the cut-off, Ah.
    pub charge_ah: f64,
    /// Time up to the cut-off, h.
    pub hours: f64,
    /// Mean load, A (≥ 0).
    pub load_a: f64,
    /// Time that the rating promises at this load and 25 °C, h.
    pub rated_hours: f64,
    /// Temperature at the start of the discharge, °C, which is the one that counts; `None` where no sensor said.
    pub temperature_c: Option<f64>,
    /// Mean temperature over the discharge, °C.
    #[serde(default)]
    pub mean_temperature_c: Option<f64>,
    /// By the time-adjusted method, lead only.
    pub time_adjusted: Option<f64>,
    /// By the rate-adjusted method, lead only.
    pub rate_adjusted: Option<f64>,
    /// Which one applies.
    pub worked: Worked,
    /// The one that applies, with its error.
    pub capacity: Estimate,
    /// What it means.
    pub verdict: Verdict,
}

/// What was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ran {
    /// Charge up to the cut-off, Ah.
    pub charge_ah: f64,
    /// 1 σ of what nobody saw of it, Ah.
    pub unseen_ah: f64,
    /// Mean load, A.
    pub load_a: f64,
    /// Temperature at the start, °C.
    pub temperature_c: Option<f64>,
    /// Mean temperature over the discharge, °C.
    pub mean_temperature_c: Option<f64>,
}

/// Percent by the time-adjusted method, as a ratio: the time that it took, over the rated time and `K_T`.
#[must_use]
pub fn time_adjusted(hours: f64, rated_hours: f64, temperature_c: f64) -> f64 {
    hours / (rated_hours * TimeAdjustment::factor(temperature_c))
}

/// The load of a rate-adjusted test at a temperature, A: the rated load over K.
#[must_use]
pub fn rate_adjusted_load_a(rated_load_a: f64, temperature_c: f64) -> f64 {
    rated_load_a / CellSizing::factor(temperature_c)
}

/// Hours that the rating promises at a load and 25 °C.
#[must_use]
pub fn rated_hours(bank: &Bank, load_a: f64) -> f64 {
    bank.rate_curve.capacity_ratio(load_a / bank.rated_capacity_ah) * bank.rated_capacity_ah / load_a
}

impl TestResult {
    /// Works out a test. `last`: the capacity by the test before, parts of the rating.
    #[must_use]
    pub fn of(bank: &Bank, ran: Ran, last: Option<f64>) -> TestResult {
        let hours = ran.charge_ah / ran.load_a;
        let promised = rated_hours(bank, ran.load_a);
        let (temperature_c, doubt_c) = ran.temperature_c.map_or((25.0, 7.0), |c| (c, 1.0));
        let by_time = |c: f64| time_adjusted(hours, promised, c);
        // The load at hand is the adjusted one: the rated load is K times it.
        let by_rate = |c: f64| hours / rated_hours(bank, ran.load_a * CellSizing::factor(c));
        let plain = hours / promised;
        let spread = |by: &dyn Fn(f64) -> f64| (by(temperature_c + doubt_c) - by(temperature_c - doubt_c)).abs() / 2.0;
        // The methods go by the temperature at the start, which holds for a test of some hours in a room. In twenty hours aboard
        // a bank warms and cools with the day.
        let mean_c = ran.mean_temperature_c.unwrap_or(temperature_c);
        let strays = |by: &dyn Fn(f64) -> f64| spread(by).hypot(by(mean_c) - by(temperature_c));
        let (worked, value, of_temperature) = match bank.chemistry.family() {
            Family::Lithium => (Worked::Plain, plain, 0.0),
            Family::Lead if promised >= TIME_ADJUSTED_FROM_H => {
                (Worked::TimeAdjusted, by_time(temperature_c), strays(&by_time))
            }
            Family::Lead => (Worked::RateAdjusted, by_rate(temperature_c), strays(&by_rate)),
        };
        let offset = bank.sensor.offset_a / ran.load_a;
        let ratio = [
            TEST_REPEATS,
            bank.full.soc_std_dev,
            bank.sensor.gain,
            offset,
            ran.unseen_ah / ran.charge_ah,
            bank.rate_curve.capacity_ratio_std_dev(ran.load_a / bank.rated_capacity_ah)
                / bank.rate_curve.capacity_ratio(ran.load_a / bank.rated_capacity_ah),
        ]
        .into_iter()
        .fold(0.0, f64::hypot);
        let lead = bank.chemistry.family() == Family::Lead;
        TestResult {
            charge_ah: ran.charge_ah,
            hours,
            load_a: ran.load_a,
            rated_hours: promised,
            temperature_c: ran.temperature_c,
            mean_temperature_c: ran.mean_temperature_c,
            time_adjusted: lead.then(|| by_time(temperature_c)),
            rate_adjusted: lead.then(|| by_rate(temperature_c)),
            worked,
            capacity: Estimate { value, std_dev: (ratio * value).hypot(of_temperature) },
            verdict: verdict(value, last),
        }
    }

    /// In words.
    #[must_use]
    pub fn words(&self, bank: &Bank) -> Vec<String> {
        let percent = 100.0 * self.capacity.value;
        let doubt = 100.0 * (self.capacity.band().width() / 2.0);
        let how = match self.worked {
            Worked::TimeAdjusted => "time-adjusted method, 25 °C (IEEE 450 / IEEE 1188)",
            Worked::RateAdjusted => "rate-adjusted method, 25 °C (IEEE 450 / IEEE 1188)",
            Worked::Plain => {
                "charge to the cut-off against the rating at this load, not corrected for temperature: the tables of IEEE 450 \
                 and 1188 are for lead"
            }
        };
        let mut words = vec![format!(
            "{:.1} Ah in {:.2} h at {:.1} A; the rating promises {:.2} h at this load. Capacity {percent:.1} % ± {doubt:.1} % of the \
             rating, by {how}.",
            self.charge_ah, self.hours, self.load_a, self.rated_hours
        )];
        if self.temperature_c.is_none() && bank.chemistry.family() == Family::Lead {
            words
                .push("No sensor told the temperature: 25 °C was taken, and the doubt is the wider for it.".to_owned());
        }
        if let (Some(start_c), Some(mean_c), true) =
            (self.temperature_c, self.mean_temperature_c, bank.chemistry.family() == Family::Lead)
            && (mean_c - start_c).abs() >= WARMED_K
        {
            words.push(format!(
                "The method goes by the {start_c:.1} °C at the start; the mean over the test was {mean_c:.1} °C, so it tells too \
                 {}. The finding of capacity goes by the mean.",
                if mean_c > start_c { "much" } else { "little" }
            ));
        }
        words.push(self.verdict.words().to_owned());
        words
    }
}

/// What a capacity means.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// In order.
    Sound,
    /// It ages.
    Degraded,
    /// Below 80 % of the rating.
    Replace,
}

impl Verdict {
    /// In words, with the rule's source.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Verdict::Sound => {
                "In order: at least 90 % of the rating, and no more than 10 % points below the last test."
            }
            Verdict::Degraded => {
                "Degraded: below 90 % of the rating, or more than 10 % points below the last test (IEEE 450 / IEEE 1188, as \
                 cited by testing firms). Test again within a year."
            }
            Verdict::Replace => {
                "Below 80 % of the rating: the whole bank should be replaced as soon as possible (US Bureau of Reclamation, \
                 Storage Battery Maintenance, FIST 3-6)."
            }
        }
    }
}

/// The verdict on a capacity, in parts of the rating; `last` by the test before it.
#[must_use]
pub fn verdict(capacity: f64, last: Option<f64>) -> Verdict {
    if capacity < REPLACE_BELOW {
        Verdict::Replace
    } else if capacity < DEGRADED_BELOW || last.is_some_and(|last| last - capacity > DEGRADED_BY) {
        Verdict::Degraded
    } else {
        Verdict::Sound
    }
}

/// When the next test is due.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Due {
    /// Months after the last test; 0: now.
    pub months: u32,
    /// Why.
    pub why: &'static str,
}

/// When the next test is due. `past`: capacities by the tests so far, parts of the rating, oldest first; `life`: how much of its
/// expected service life the bank has behind it, ratio, where that is known.
#[must_use]
pub fn next_due(chemistry: Chemistry, past: &[f64], life: Option<f64>) -> Due {
    let Some(&capacity) = past.last() else {
        return Due { months: 0, why: "No test yet: the first one is what all later ones are held against." };
    };
    let before = past.len().checked_sub(2).map(|i| past[i]);
    if verdict(capacity, before) != Verdict::Sound {
        return Due { months: 12, why: "Each year while the capacity is below 90 % (FIST 3-6) or falls fast." };
    }
    match chemistry {
        Chemistry::Flooded if life.is_some_and(|life| life >= 0.85) && capacity < 1.0 => {
            Due { months: 12, why: "Each year after 85 % of the service life (IEEE 450, as cited)." }
        }
        Chemistry::Flooded if life.is_some_and(|life| life >= 0.85) => Due {
            months: 24,
            why: "After 85 % of the service life, but still 100 % and more: every other year will do (IEEE 450, as cited).",
        },
        Chemistry::Flooded => Due { months: 24, why: "Every other year (common practice, no source)." },
        Chemistry::Agm | Chemistry::Gel | Chemistry::LeadCarbon => {
            Due { months: 12, why: "Every 12 to 18 months for valve-regulated lead (IEEE 1188, as cited)." }
        }
        Chemistry::Lfp | Chemistry::Nmc => Due { months: 24, why: "Every other year (common practice, no source)." },
    }
}
