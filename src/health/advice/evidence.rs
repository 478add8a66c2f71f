//! What the rules are given.

use crate::battery::{Bank, Chemistry};
use crate::health::balance::{Weak, weakest};
use crate::health::record::{BalanceDay, BalanceState, FullLoop, UseDay};
use crate::health::usage;
use crate::quantity::Estimate;

/// Days of the lists that the standing current is taken from.
const LAST_DAYS: usize = 7;
/// Fewer days tell no habit (assumed).
const DAYS_FOR_A_HABIT: usize = 14;

/// What is known of a bank; `None` where it is not, and the rules that need it are silent.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// Its chemistry.
    pub chemistry: Chemistry,
    /// Its rated capacity, Ah.
    pub rated_ah: f64,
    /// Days since it was last full.
    pub days_since_full: Option<f64>,
    /// Days until the next capacity test is due; negative when it is overdue.
    pub days_to_test: Option<f64>,
    /// A connection that was told of lately, in words.
    pub connection: Option<String>,
    /// Mean temperature, °C.
    pub temperature_c: Option<f64>,
    /// Part of the time at 40 °C and above.
    pub hot: Option<f64>,
    /// Part of the days that went below half charge, and below a tenth.
    pub below_half: Option<f64>,
    /// See above.
    pub below_tenth: Option<f64>,
    /// Part of the time above nine tenths of charge.
    pub nearly_full: Option<f64>,
    /// Charge put in below 0 °C, Ah.
    pub cold_charge_ah: Option<f64>,
    /// What the sensor reads at zero, A, and the stated error (1 σ).
    pub offset_a: Option<Estimate>,
    /// See above.
    pub stated_offset_a: f64,
    /// Current that belongs to no branch, A (a load is negative).
    pub unaccounted_a: Option<Estimate>,
    /// Efficiency of charging now, and before.
    pub efficiency: Option<Estimate>,
    /// See above.
    pub efficiency_before: Option<Estimate>,
    /// The weak monobloc.
    pub weak: Option<Weak>,
    /// Greatest less smallest deviation of a monobloc at the end of charge, V, and of how many cells one consists.
    pub charge_end_spread_v: Option<f64>,
    /// See above.
    pub cells_each: f64,
}

/// What was found lately, each list in the order it was lived: the last three months are usual.
#[derive(Debug, Clone, Copy, Default)]
pub struct Recent<'a> {
    /// Days of use.
    pub days: &'a [UseDay],
    /// Ways from full to full.
    pub loops: &'a [FullLoop],
    /// Ways from full to full before that, to compare with: the year before is usual.
    pub loops_before: &'a [FullLoop],
    /// Balance.
    pub balance: &'a [BalanceDay],
}

impl Evidence {
    /// The evidence that lists of findings hold. Days since full, the test and connections are left to the caller, who
    /// knows the time and the events.
    #[must_use]
    pub fn of(bank: &Bank, recent: &Recent<'_>) -> Evidence {
        let days = recent.days;
        let hours = usage::hours_by_temperature(days);
        let all_h: f64 = hours.iter().sum();
        let known = |value: f64| (all_h > 0.0).then_some(value);
        let read = || days.iter().filter_map(|day| Some((day.temperature_c?, day.covered_s)));
        let read_s: f64 = read().map(|(_, s)| s).sum();
        let monoblocs = recent.balance.iter().map(|day| day.monobloc).max();
        let cells = f64::from(bank.cells_in_series);
        Evidence {
            chemistry: bank.chemistry,
            rated_ah: bank.rated_capacity_ah,
            days_since_full: None,
            days_to_test: None,
            connection: None,
            temperature_c: (read_s > 0.0).then(|| read().map(|(c, s)| c * s).sum::<f64>() / read_s),
            hot: known(hours[5] / all_h),
            below_half: days_below(days, 0.5),
            below_tenth: days_below(days, 0.1),
            nearly_full: usage::shares_of_charge(days).map(|shares| shares[9]),
            cold_charge_ah: known(days.iter().map(|day| day.cold_charge_ah).sum()),
            offset_a: recent.loops.iter().rev().find_map(|way| way.offset_a),
            stated_offset_a: bank.sensor.offset_a,
            unaccounted_a: unaccounted_a(days),
            efficiency: usage::efficiency(recent.loops),
            efficiency_before: usage::efficiency(recent.loops_before),
            weak: weakest(recent.balance),
            charge_end_spread_v: charge_end_spread_v(recent.balance),
            cells_each: cells / monoblocs.map_or(1.0, f64::from),
        }
    }
}

fn days_below(days: &[UseDay], soc: f64) -> Option<f64> {
    let known = days.iter().filter_map(|day| day.lowest_soc);
    let count = known.clone().count();
    (count >= DAYS_FOR_A_HABIT).then(|| known.filter(|lowest| *lowest < soc).count() as f64 / count as f64)
}

/// The median of the last days, with the error of one: sensors' offsets do not average out.
fn unaccounted_a(days: &[UseDay]) -> Option<Estimate> {
    let mut last: Vec<Estimate> = days.iter().rev().filter_map(|day| day.unaccounted_a).take(LAST_DAYS).collect();
    last.sort_by(|a, b| a.value.total_cmp(&b.value));
    last.get(last.len() / 2).copied()
}

/// Between the monoblocs on the last day that saw an end of charge.
fn charge_end_spread_v(balance: &[BalanceDay]) -> Option<f64> {
    let ends = || balance.iter().filter(|day| day.state == BalanceState::ChargeEnd);
    let last = ends().next_back()?.day;
    let of_last = || ends().filter(|day| day.day == last).map(|day| day.deviation_v);
    Some(of_last().fold(f64::NEG_INFINITY, f64::max) - of_last().fold(f64::INFINITY, f64::min))
}
