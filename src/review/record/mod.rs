//! The health record of a bank: what was found in years of samples, put together with what it means.

mod advise;
mod balance;
mod capacity;
mod cycles;
mod fade;
mod months;
mod reach;
mod resistance;
mod stored;
mod stress;
mod thin;
mod trial_views;
mod trials;
mod usage;
mod use_views;
mod views;

use jiff::tz::TimeZone;

pub use trial_views::*;
pub use trials::trial;
pub use use_views::*;
pub use views::*;

use super::looked::Looked;
use super::notes::clock_note;
use super::standing::last_full;
use super::values::rfc3339;
use crate::battery::Bank;
use crate::health::Aboard;
use crate::health::ventilation::{self, ChargeMode};
use crate::quantity::UtcMs;
use crate::store::{Reader, Result};
use stored::Stored;

/// Capacity by rating at which life ends. Source: IEEE Std 450 and 1188, replacement at 80 %.
pub const END_OF_LIFE: f64 = 0.80;

/// What is said wherever the record is shown: this is no protective device, and what batteries can do.
pub const CAUTIONS: [&str; 3] = [
    "Monitoring only: taffrail switches nothing and is no protective device.",
    "High-current DC can burn and kill. Lead batteries give off hydrogen, which explodes. Lithium cells can run away.",
    "Fusing, isolation and ventilation follow the local codes (such as ISO 13297, ISO 16315, ABYC E-11 and E-13, IEC 62485) and a qualified marine electrician.",
];

/// The health record of a bank; months are those of `zone`.
///
/// # Errors
/// What the store reports.
pub fn record(reader: &Reader, aboard: &Aboard<'_>, zone: &TimeZone) -> Result<RecordView> {
    let bank = aboard.bank;
    let looked = Looked::at(reader, &bank.name)?;
    let stored = Stored::read(reader, &bank.name)?;
    let last_full = last_full(reader, &bank.name)?;
    let (tests, due, test_due) = trials::tests(reader, bank)?;
    let judged = fade::judge(bank, &stored.capacity);
    let capacity = capacity::capacity_view(bank, &stored.capacity, looked.to);
    let usage = usage::use_view(&stored.days, &stored.loops, last_full, looked.to, zone);
    let times = advise::Times {
        now: looked.to,
        since_full: usage.days_since_full,
        to_test: due.as_ref().zip(looked.to).map(|(due, now)| due.seconds_since(now) / 86_400.0),
    };
    let now = reach::Now {
        time: looked.to,
        capacity_ah: capacity.latest.as_ref().map_or(bank.rated_capacity_ah, |latest| latest.value),
        temperature_c: stored.days.iter().rev().find_map(|day| day.it.temperature_c),
        other_load_a: usage.standing_a.map_or(0.0, |standing| standing.value.max(0.0)),
    };
    Ok(RecordView {
        bank: bank.name.clone(),
        title: bank.title.clone(),
        chemistry: bank.chemistry.word(),
        rated_capacity_ah: bank.rated_capacity_ah,
        rated_hours: bank.rated_hours,
        end_of_life: END_OF_LIFE,
        first: looked.reach.and_then(|(first, _)| rfc3339(first)),
        surveyed_to: looked.surveyed_to(),
        notes: notes(reader, bank, &looked)?,
        capacity,
        fade: fade::fade_view(bank, &judged, &stored.capacity),
        tests,
        test_due,
        resistance: resistance::resistance_views(&stored.resistance),
        balance: balance::balance_view(&stored.balance),
        usage,
        cycles: cycles::cycles_view(bank, &stored.cycles, &stored.days),
        stress: stress::stress_view(bank, &stored, &judged, &looked, times.since_full),
        reach: reach::reach_view(reader, bank, &now)?,
        advice: advise::advice_views(reader, bank, &stored, &times)?,
        ventilation: ventilation_view(aboard),
        cautions: CAUTIONS.to_vec(),
    })
}

/// What has to be said beside all figures.
fn notes(reader: &Reader, bank: &Bank, looked: &Looked) -> Result<Vec<String>> {
    let watched = reader.watched(&bank.name, UtcMs(i64::MIN), UtcMs(i64::MAX))?;
    let unplaced = match reader.unplaced_findings(&bank.name)? {
        0 => None,
        count => Some(format!(
            "{count} findings are of times when the computer had no clock: they are kept, and left out here."
        )),
    };
    Ok([looked.note(), clock_note(&watched), unplaced].into_iter().flatten().collect())
}

/// Air for a lead bank while it is filled, when it gives off most.
fn ventilation_view(aboard: &Aboard<'_>) -> Option<VentilationView> {
    let bank = aboard.bank;
    let cells = bank.cells_in_series;
    let air = ventilation::ventilation(bank.chemistry, ChargeMode::Boost, cells, bank.rated_capacity_ah)?;
    let text = format!(
        "While it is filled, {cells} cells of {:.0} Ah need {:.2} m³/h of air, or an inlet and an outlet of {:.0} cm² each with natural draught. {}",
        bank.rated_capacity_ah,
        air.flow_m3_per_h,
        air.opening_cm2,
        ventilation::CAUTION,
    );
    Some(VentilationView { air_m3_h: air.flow_m3_per_h, area_cm2: air.opening_cm2, text })
}
