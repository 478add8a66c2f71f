//! What comes out now, beside what is held: after a hard run a bank may deliver nothing and still hold a quarter.

use serde::Serialize;
use utoipa::ToSchema;

use super::words::{charge, charge_range, current, minutes};
use crate::battery::Bank;
use crate::quantity::Band;
use crate::reckoning::{Outlook, Reckoned, deliverable, outlook};

/// Less than this, in parts of the capacity, is said to be nothing.
const NOTHING: f64 = 0.005;
/// Charge that stays behind is worth a word from this part of the capacity on.
const WORTH_A_WORD: f64 = 0.03;

/// Below this temperature, °C, warmth is named among what frees bound charge: there it counts as much as a rest.
const COLD_C: f64 = 15.0;

/// Charge that comes out at the present load and temperature before the cut-off voltage.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeliverableView {
    /// The recent mean load, A, positive; `null` at rest and while charging.
    load_a: Option<f64>,
    /// Charge that comes out at that load, Ah; `null` without one.
    charge_ah: Option<f64>,
    /// Lower edge of its 95 % band.
    low_ah: Option<f64>,
    /// Upper edge.
    high_ah: Option<f64>,
    /// Charge held, Ah: what comes out slowly enough, with rests.
    held_ah: f64,
    /// Charge out of reach now because of what was drawn lately; a rest gives it back. Ah, 0 or more.
    bound_ah: f64,
    /// The same for people.
    text: String,
}

impl DeliverableView {
    /// What the bank delivers in this state.
    pub fn new(bank: &Bank, state: &Reckoned) -> DeliverableView {
        let bound_ah = state.bound.charge_ah.clamp(0.0, state.held_ah.max(0.0));
        let load_a = match outlook(bank, state) {
            Outlook::Falling(_) => state.mean_current_a.map(f64::abs),
            Outlook::Rest | Outlook::Rising(_) => None,
        };
        let given = load_a.map(|load_a| (load_a, deliverable(bank, state, load_a)));
        let text = match (given, state.mean_current_a) {
            (Some((load_a, (charge_ah, band))), _) => at_load(state, load_a, charge_ah, band),
            (None, mean_a) => without_load(state, bound_ah, mean_a.unwrap_or(0.0) > 0.0),
        };
        DeliverableView {
            load_a,
            charge_ah: given.map(|(_, (charge_ah, _))| charge_ah),
            low_ah: given.map(|(_, (_, band))| band.low),
            high_ah: given.map(|(_, (_, band))| band.high),
            held_ah: state.held_ah,
            bound_ah,
            text,
        }
    }
}

/// What comes out at a load of `load_a`, for people.
pub fn at_load(state: &Reckoned, load_a: f64, charge_ah: f64, band: Band) -> String {
    let (held_ah, capacity_ah) = (state.held_ah, state.capacity_ah);
    let cold = state.temperature_c.is_some_and(|temperature_c| temperature_c < COLD_C);
    let frees = if cold { "a rest, a gentler load or warmth" } else { "a rest or a gentler load" };
    let load = current(load_a);
    let held = format!("{} ({:.0} % of its capacity)", charge(held_ah), 100.0 * held_ah / capacity_ah);
    let behind_ah = held_ah - charge_ah;
    if held_ah < NOTHING * capacity_ah {
        format!("The bank holds next to nothing; at {load} nothing comes out.")
    } else if charge_ah < NOTHING * capacity_ah {
        format!("At {load} nothing comes out now, although {held} is still held: {frees} gives it back.")
    } else if behind_ah > WORTH_A_WORD * capacity_ah {
        let (out, behind) = (charge_range(band.low, band.high), charge(behind_ah));
        format!("{out} comes out at {load}; the other {behind} held stays behind until {frees} frees it.")
    } else {
        format!("At {load} nearly all of what is held comes out: {}.", charge_range(band.low, band.high))
    }
}

fn without_load(state: &Reckoned, bound_ah: f64, charging: bool) -> String {
    let bound = state.bound;
    let held = charge(state.held_ah);
    if charging {
        format!("The bank is charging and holds {held}; what comes out depends on the load that follows.")
    } else if bound_ah > WORTH_A_WORD * state.capacity_ah && bound.relax_per_s > 0.0 {
        let half_s = std::f64::consts::LN_2 / bound.relax_per_s;
        let bound = charge(bound_ah);
        format!(
            "The bank rests: {bound} of the {held} held is out of reach for now; half of that is back in {}.",
            minutes(half_s)
        )
    } else {
        format!("The bank rests and holds {held}; how much of it comes out depends on the load.")
    }
}
