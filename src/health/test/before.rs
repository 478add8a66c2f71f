//! What must be so before a capacity test begins.

use serde::{Deserialize, Serialize};

use crate::battery::Family;
use crate::health::watch::Aboard;

/// How long ago the bank may have been full, s (assumed: a charger takes it up again within a day).
const FULL_WITHIN_S: f64 = 24.0 * 3600.0;
/// What may have been taken out since, parts of the rating (as much as full is unsure by).
const TAKEN_AT_MOST: f64 = 0.01;
/// How long the bank must have rested, s: lead until the lift of the charge has gone by half, lithium less (assumed).
const LEAD_REST_S: f64 = 3600.0;
const LITHIUM_REST_S: f64 = 900.0;
/// Temperatures between which a test is worth its correction, °C (assumed; 18 to 32 °C is where the published tables agree
/// within a few per cent).
const TEMPERATURE_C: (f64, f64) = (18.0, 32.0);

/// What is known of a bank when somebody wants to test it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Latest {
    /// Seconds since it was last full; `None` if that was never seen.
    pub full_ago_s: Option<f64>,
    /// Charge taken out since, Ah (≥ 0).
    pub taken_since_full_ah: f64,
    /// Seconds since it was last used or charged.
    pub rest_s: f64,
    /// Temperature, °C; `None` where no sensor says.
    pub temperature_c: Option<f64>,
}

/// What a precondition is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum About {
    /// The charge.
    Full,
    /// The rest.
    Rested,
    /// The temperature.
    Temperature,
}

/// One precondition of a test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Precondition {
    /// What it is about.
    pub about: About,
    /// Whether it is met.
    pub met: bool,
    /// In words; where it is not met, what to do.
    pub text: String,
}

/// All preconditions of a test, met or not.
#[must_use]
pub fn preconditions(aboard: &Aboard<'_>, latest: &Latest) -> Vec<Precondition> {
    vec![full(aboard, latest), rested(aboard, latest), temperature(latest)]
}

fn full(aboard: &Aboard<'_>, latest: &Latest) -> Precondition {
    let about = About::Full;
    let hours = |seconds: f64| seconds / 3600.0;
    let most_ah = TAKEN_AT_MOST * aboard.bank.rated_capacity_ah;
    match latest.full_ago_s {
        None => Precondition {
            about,
            met: false,
            text: "The bank has not been seen full. Charge it until the charger finishes, then start.".to_owned(),
        },
        Some(ago) if ago > FULL_WITHIN_S => Precondition {
            about,
            met: false,
            text: format!(
                "It was last full {:.0} h ago, more than {:.0} h. Charge it until the charger finishes, then start.",
                hours(ago),
                hours(FULL_WITHIN_S)
            ),
        },
        Some(_) if latest.taken_since_full_ah > most_ah => Precondition {
            about,
            met: false,
            text: format!(
                "{:.1} Ah have been taken out since it was full, more than {most_ah:.1} Ah. Charge it again, then start.",
                latest.taken_since_full_ah
            ),
        },
        Some(ago) => Precondition { about, met: true, text: format!("Full, {:.1} h ago.", hours(ago)) },
    }
}

fn rested(aboard: &Aboard<'_>, latest: &Latest) -> Precondition {
    let enough_s = match aboard.bank.chemistry.family() {
        Family::Lead => LEAD_REST_S,
        Family::Lithium => LITHIUM_REST_S,
    };
    let (is, needs) = (latest.rest_s / 60.0, enough_s / 60.0);
    let met = latest.rest_s >= enough_s;
    let text = if met {
        format!("Rested for {is:.0} min.")
    } else {
        format!(
            "Rested for {is:.0} min only, {needs:.0} min are needed. Switch off charger and loads, wait {:.0} min, then start.",
            needs - is
        )
    };
    Precondition { about: About::Rested, met, text }
}

fn temperature(latest: &Latest) -> Precondition {
    let (low, high) = TEMPERATURE_C;
    let (met, text) = match latest.temperature_c {
        None => (
            false,
            "No sensor tells the temperature. Measure it at the case and set it with the start, or go on: 25 °C is taken then, \
             and the result is the less sure."
                .to_owned(),
        ),
        Some(c) if !(low..=high).contains(&c) => (
            false,
            format!(
                "{c:.0} °C is outside {low:.0} to {high:.0} °C. Wait for other weather, or go on: the result is corrected to \
                 25 °C, but the published corrections differ there."
            ),
        ),
        Some(c) => (true, format!("{c:.0} °C.")),
    };
    Precondition { about: About::Temperature, met, text }
}
