//! How long it lasts: time to the reserve and to empty at a load, and time to full, as ranges.
//!
//! A bank that is drawn at a high rate stops at its cut-off voltage with charge left in it: what it cannot give at that
//! rate stays bound, about the same amount wherever the discharge began. So what can be delivered at a load is the charge
//! held less that bound part, `held - (C - C(load, temperature))`, with `C(load, temperature)` by the rate curve and the
//! temperature law of the bank.

use super::terms::Reckoned;
use crate::battery::Bank;
use crate::quantity::{Band, Z95};

/// Doubt in "the present load", each way, ratio: what a mean over ten minutes says of the next hours (assumed).
const LOAD_DOUBT: f64 = 0.05;
/// Currents smaller than this part of the rated capacity, A per Ah, are rest: 60 mA on 120 Ah (assumed).
const REST_C_RATE: f64 = 0.000_5;
/// 1 σ of the capacity that a temperature law predicts, ratio per kelvin away from 25 °C (assumed: published laws differ
/// by this much at 10 °C).
const LAW_DOUBT_PER_K: f64 = 0.002;

/// A duration as a range, seconds; endless is infinity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The likeliest.
    pub likely_s: f64,
    /// The lower edge of the 95 % range.
    pub low_s: f64,
    /// The upper edge.
    pub high_s: f64,
}

/// Endurance at a load.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Endurance {
    /// Until the cut-off voltage at that load.
    pub empty: Span,
    /// Until the reserve, or the cut-off where that comes first; zero below the reserve.
    pub reserve: Span,
}

/// Where the charge is going at the recent mean current.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outlook {
    /// Nothing to speak of flows.
    Rest,
    /// Discharging: how long it lasts.
    Falling(Endurance),
    /// Charging: time to full.
    Rising(Span),
}

/// The outlook at the recent mean current.
#[must_use]
pub fn outlook(bank: &Bank, state: &Reckoned) -> Outlook {
    let mean_a = state.mean_current_a.unwrap_or(0.0);
    if mean_a.abs() < REST_C_RATE * bank.rated_capacity_ah {
        Outlook::Rest
    } else if mean_a < 0.0 {
        Outlook::Falling(endurance(bank, state, -mean_a))
    } else {
        Outlook::Rising(time_to_full(bank, state, mean_a))
    }
}

/// Endurance at a load of `load_a` (> 0).
#[must_use]
pub fn endurance(bank: &Bank, state: &Reckoned, load_a: f64) -> Endurance {
    let temperature_c = state.temperature_c.unwrap_or(25.0);
    let edges = [
        Edge { held_ah: state.held_ah, load_a, sigmas: 0.0 },
        Edge { held_ah: state.held_band_ah.low, load_a: load_a * (1.0 + LOAD_DOUBT), sigmas: Z95 },
        Edge { held_ah: state.held_band_ah.high, load_a: load_a * (1.0 - LOAD_DOUBT), sigmas: -Z95 },
    ];
    let empty = edges.map(|edge| edge.empty_s(bank, state, temperature_c));
    let reserve = edges.map(|edge| edge.reserve_s(bank, state, temperature_c));
    Endurance { empty: span(empty), reserve: span(reserve) }
}

/// Charge that comes out at a load of `load_a` (> 0) from now to the cut-off, at the present temperature, Ah: likely and
/// 95 % band.
#[must_use]
pub fn deliverable(bank: &Bank, state: &Reckoned, load_a: f64) -> (f64, Band) {
    let Span { likely_s, low_s, high_s } = endurance(bank, state, load_a).empty;
    let charge_ah = |seconds: f64| seconds * load_a / 3600.0;
    (charge_ah(likely_s), Band { low: charge_ah(low_s), high: charge_ah(high_s) })
}

/// Time to full while charging at `charge_a` (> 0): by the count at this current at the least, with the finish that the
/// chemistry needs at the most.
#[must_use]
pub fn time_to_full(bank: &Bank, state: &Reckoned, charge_a: f64) -> Span {
    let preset = bank.preset();
    let seconds = |held_ah: f64, finish_s: f64| {
        let missing_ah = (state.capacity_ah - held_ah).max(0.0);
        // Losses grow towards full; the efficiency half-way there stands for the rest of the charge.
        let soc_half_way = f64::midpoint(held_ah / state.capacity_ah, 1.0);
        let bulk_s = missing_ah / preset.efficiency.at(soc_half_way) / charge_a * 3600.0;
        // What is nearly full has nearly done finishing.
        bulk_s + finish_s * (missing_ah / (0.2 * state.capacity_ah)).min(1.0)
    };
    let finish = preset.finish_s;
    Span {
        likely_s: seconds(state.held_ah, f64::midpoint(finish.low, finish.high)),
        low_s: seconds(state.held_band_ah.high, finish.low) * (1.0 - LOAD_DOUBT),
        high_s: seconds(state.held_band_ah.low, finish.high) * (1.0 + LOAD_DOUBT),
    }
}

/// One corner of the uncertainty: this much charge, this load, the bound charge so many σ above its likely value.
#[derive(Clone, Copy)]
struct Edge {
    held_ah: f64,
    load_a: f64,
    sigmas: f64,
}

impl Edge {
    /// Until the cut-off. What a bank gives at a steady load from full is its curve against rate; what it still gives
    /// depends on how much of the bound charge is bound already, and how soon the load binds the rest.
    fn empty_s(&self, bank: &Bank, state: &Reckoned, temperature_c: f64) -> f64 {
        let scale = state.capacity_ah / bank.rated_capacity_ah;
        let given_ah = bank.deliverable_when_full_ah(self.load_a / scale, temperature_c) * scale;
        let rate_std_dev_ah =
            bank.rate_curve.capacity_ratio_std_dev(self.load_a / state.capacity_ah) * state.capacity_ah;
        let law_std_dev_ah = LAW_DOUBT_PER_K * (temperature_c - 25.0).abs() * given_ah;
        let doubt_ah = self.sigmas * rate_std_dev_ah.hypot(law_std_dev_ah).hypot(state.bound.std_dev_ah);
        let bound_ah = (state.capacity_ah - given_ah + doubt_ah).max(0.0);
        let relax_per_h = state.bound.relax_per_s * 3600.0;
        if relax_per_h <= 0.0 {
            return (self.held_ah - bound_ah).max(0.0) / self.load_a * 3600.0;
        }
        let within_ah = self.held_ah + state.bound.below_ah;
        let steady_ah = (bound_ah + state.bound.below_ah) / (1.0 - (-relax_per_h * given_ah / self.load_a).exp());
        let left_ah = |hours: f64| {
            let decay = (-relax_per_h * hours).exp();
            within_ah - self.load_a * hours - steady_ah * (1.0 - decay) - state.bound.charge_ah * decay
        };
        first_crossing_h(left_ah, within_ah / self.load_a) * 3600.0
    }

    fn reserve_s(&self, bank: &Bank, state: &Reckoned, temperature_c: f64) -> f64 {
        let above_ah = self.held_ah - bank.reserve * state.capacity_ah;
        (above_ah.max(0.0) / self.load_a * 3600.0).min(self.empty_s(bank, state, temperature_c))
    }
}

/// First time in `0..=longest_h` at which a quantity that is positive at first reaches 0; 0 if it is not positive.
fn first_crossing_h(quantity: impl Fn(f64) -> f64, longest_h: f64) -> f64 {
    const STEPS: u32 = 64;
    if quantity(0.0) <= 0.0 {
        return 0.0;
    }
    let at = |step: u32| longest_h * f64::from(step) / f64::from(STEPS);
    let Some(step) = (1..=STEPS).find(|&step| quantity(at(step)) <= 0.0) else { return longest_h };
    let (mut low, mut high) = (at(step - 1), at(step));
    for _ in 0..40 {
        let middle = f64::midpoint(low, high);
        if quantity(middle) > 0.0 { low = middle } else { high = middle }
    }
    f64::midpoint(low, high)
}

fn span([likely_s, low_s, high_s]: [f64; 3]) -> Span {
    Span { likely_s, low_s: low_s.min(likely_s), high_s: high_s.max(likely_s) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::{Chemistry, Rate};
    use crate::reckoning::Bound;

    fn bank() -> Bank {
        let mut bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
        bank.set_rates(&[Rate { hours: 10.0, capacity_ah: 117.0 }, Rate { hours: 1.0, capacity_ah: 93.0 }])
            .expect("a falling table");
        bank.reserve = 0.3;
        bank
    }

    fn state(held_ah: f64) -> Reckoned {
        Reckoned {
            soc: held_ah / 120.0,
            soc_band: Band { low: held_ah / 120.0 - 0.02, high: held_ah / 120.0 + 0.02 },
            held_ah,
            held_band_ah: Band { low: held_ah - 2.4, high: held_ah + 2.4 },
            capacity_ah: 120.0,
            capacity_band_ah: Band { low: 110.0, high: 130.0 },
            drawn_since_full_ah: Some(120.0 - held_ah),
            mean_current_a: None,
            temperature_c: Some(25.0),
            start_known: true,
            bound: Bound::default(),
            learned: None,
        }
    }

    #[test]
    fn a_full_bank_at_a_listed_rate_lasts_the_listed_hours() {
        let lasts = endurance(&bank(), &state(120.0), 93.0);
        assert!((lasts.empty.likely_s - 3600.0).abs() < 1e-6);
        assert!(lasts.empty.low_s < 3600.0 && lasts.empty.high_s > 3600.0);
    }

    #[test]
    fn after_a_hard_run_nothing_is_left_at_that_load_and_hours_at_a_gentle_one() {
        let spent = state(120.0 - 93.0);
        assert!(endurance(&bank(), &spent, 93.0).empty.likely_s < 1e-6);
        assert!((endurance(&bank(), &spent, 6.0).empty.likely_s - 27.0 / 6.0 * 3600.0).abs() < 1e-6);
    }

    #[test]
    fn the_reserve_comes_before_empty_and_is_zero_below_it() {
        let lasts = endurance(&bank(), &state(84.0), 6.0);
        assert!((lasts.reserve.likely_s - 48.0 / 6.0 * 3600.0).abs() < 1e-6);
        assert!(lasts.reserve.likely_s < lasts.empty.likely_s);
        assert!(endurance(&bank(), &state(30.0), 6.0).reserve.likely_s.abs() < 1e-12);
    }

    #[test]
    fn charging_never_looks_quicker_than_the_count_allows() {
        let span = time_to_full(&bank(), &state(100.0), 20.0);
        assert!(span.low_s > 0.9 * 3600.0 && span.low_s < span.likely_s && span.likely_s < span.high_s);
        assert!(time_to_full(&bank(), &state(120.0), 1.0).likely_s < 1.0);
    }
}
