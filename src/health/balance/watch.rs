//! The watch.

use serde::{Deserialize, Serialize};

use super::day::Day;
use super::leg::Leg;
use super::weak::Shortfalls;
use crate::battery::compensated_voltage;
use crate::health::day::day_of;
use crate::health::record::{BalanceState, Finding, FixMark};
use crate::health::watch::{Aboard, Out, Told};
use crate::quantity::{Minute, Moment};
use crate::reckoning::{FixKind, REST_RATE};

/// How long a rest must last before voltages are compared, minutes.
const REST_MINUTES: f64 = 30.0;
/// Loads from this on are loads, A per Ah: the 20 h rate.
const LOAD_RATE: f64 = 0.05;
/// Charging within so many times the tail current, at the full rule's voltage, is the end of a charge (assumed).
const TAILS: f64 = 3.0;
/// The way down is looked at from this depth on: before it, what the charge has left on the plates still goes off.
const BELOW_FULL: f64 = 0.05;
/// Minutes after charging in which the voltages still go down from it.
const AFTER_CHARGE_MINUTES: f64 = 30.0;
/// Charge put back that ends the way down, in parts of the capacity (assumed).
const PUT_BACK: f64 = 0.1;

/// Compares the monoblocs.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Balance {
    day: Option<Day>,
    /// Seconds lived, as far as they are known.
    lived_s: f64,
    resting_minutes: f64,
    since_charge_minutes: f64,
    leg: Option<Down>,
    shortfalls: Vec<Shortfalls>,
}

/// The way down from full.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Down {
    drawn_ah: f64,
    deepest_ah: f64,
    leg: Leg,
}

impl Balance {
    /// A watch that has seen nothing.
    #[must_use]
    pub fn new(_aboard: &Aboard<'_>) -> Balance {
        Balance {
            day: None,
            lived_s: 0.0,
            resting_minutes: 0.0,
            since_charge_minutes: 0.0,
            leg: None,
            shortfalls: Vec::new(),
        }
    }

    /// Takes a minute; closes the day with the first of the next.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, out: &mut Out) {
        if let Some(day) = self.day.take_if(|day| day.begin != day_of(minute.at)) {
            out.findings.extend(day.results(&self.shortfalls, self.lived_s).into_iter().map(Finding::Balance));
        }
        self.lived_s += 60.0 + minute.unseen_s.unwrap_or(0.0);
        let Some(current) = minute.current_a else { return };
        let rate = current.mean / aboard.bank.rated_capacity_ah;
        self.follow(aboard, minute, rate, out);
        let Some((mean_v, deviations_v)) = Self::compare(minute) else { return };
        if let Some(state) = self.state(aboard, minute, current.mean) {
            let day = self.day.get_or_insert_with(|| Day::new(minute.at));
            day.take(state, minute, current.mean, &deviations_v);
        }
        if rate <= -REST_RATE
            && self.since_charge_minutes >= AFTER_CHARGE_MINUTES
            && let Some(down) = &mut self.leg
        {
            let drawn = down.drawn_ah / aboard.bank.rated_capacity_ah;
            if drawn >= BELOW_FULL {
                down.leg.take(drawn, rate, mean_v, &deviations_v);
            }
        }
    }

    /// Takes a fix that lies in the last minute.
    pub fn fix(&mut self, aboard: &Aboard<'_>, fix: &FixMark, out: &mut Out) {
        if fix.kind == FixKind::Full {
            self.end_way(aboard, fix.at, out);
            self.leg = Some(Down::default());
        }
    }

    /// Keeps count of rest, charging and charge drawn.
    fn follow(&mut self, aboard: &Aboard<'_>, minute: &Minute, rate: f64, out: &mut Out) {
        let seen = minute.unseen_s.is_some_and(|unseen_s| unseen_s < 1.0);
        let float_v = aboard.bank.preset().voltage.float_v * f64::from(aboard.bank.cells_in_series);
        let floats = minute.voltage_v.is_some_and(|voltage| voltage.mean >= float_v);
        let rests = seen && rate.abs() < REST_RATE && !floats;
        self.resting_minutes = if rests { self.resting_minutes + 1.0 } else { 0.0 };
        self.since_charge_minutes = if seen && rate <= 0.0 { self.since_charge_minutes + 1.0 } else { 0.0 };
        let Some(down) = &mut self.leg else { return };
        let rated_ah = aboard.bank.rated_capacity_ah;
        down.drawn_ah += minute.charge_out_ah - minute.charge_in_ah;
        if down.drawn_ah < 0.0 && down.deepest_ah < BELOW_FULL * rated_ah {
            // Still held full.
            down.drawn_ah = 0.0;
        }
        down.deepest_ah = down.deepest_ah.max(down.drawn_ah);
        let gap = minute.unseen_s.is_none_or(|unseen_s| unseen_s > 3600.0);
        if gap || down.deepest_ah - down.drawn_ah > PUT_BACK * rated_ah {
            self.end_way(aboard, minute.at, out);
        }
    }

    fn end_way(&mut self, aboard: &Aboard<'_>, at: Moment, out: &mut Out) {
        let Some(down) = self.leg.take() else { return };
        let found = down.leg.shortfalls(aboard.bank);
        if found.is_empty() {
            return;
        }
        if self.shortfalls.len() != found.len() {
            self.shortfalls = vec![Shortfalls::default(); found.len()];
        }
        for (number, (known, shortfall)) in (1..).zip(self.shortfalls.iter_mut().zip(found)) {
            let number: u32 = number;
            known.take(self.lived_s, shortfall);
            if let Some(shortfall) = known.name(self.lived_s) {
                let band = shortfall.band();
                out.told.push(Told {
                    at,
                    kind: "weak-monobloc",
                    priority: "warning",
                    text: format!(
                        "{}: monobloc {number} holds about {:.0} % less than the others ({:.0} to {:.0} %): its voltage falls \
                         behind theirs the deeper the bank is drawn. It ends each discharge early and is overcharged by the \
                         others. Charge fully and balance; if it stays behind, have it tested by itself.",
                        aboard.bank.title,
                        100.0 * shortfall.value,
                        100.0 * band.low.max(0.0),
                        100.0 * band.high
                    ),
                });
            }
        }
    }

    /// Mean of the voltages and the deviation of each, V, where all are read: a mean of fewer is another mean.
    fn compare(minute: &Minute) -> Option<(f64, Vec<f64>)> {
        let volts: Option<Vec<f64>> = minute.monobloc_v.iter().map(|v| v.map(|v| v.mean)).collect();
        let volts = volts.filter(|volts| volts.len() >= 2)?;
        let mean_v = volts.iter().sum::<f64>() / (volts.len() as f64);
        Some((mean_v, volts.iter().map(|v| v - mean_v).collect()))
    }

    fn state(&self, aboard: &Aboard<'_>, minute: &Minute, current_a: f64) -> Option<BalanceState> {
        let bank = aboard.bank;
        let (rule, voltage) = (bank.full, minute.voltage_v?);
        let finishing_v =
            compensated_voltage(rule.voltage_v, rule.compensation_v_per_k, minute.temperature_c.unwrap_or(25.0));
        if voltage.mean >= finishing_v && current_a.abs() <= TAILS * rule.tail_current_a {
            Some(BalanceState::ChargeEnd)
        } else if self.resting_minutes >= REST_MINUTES {
            Some(BalanceState::Rest)
        } else if current_a <= -LOAD_RATE * bank.rated_capacity_ah {
            Some(BalanceState::Load)
        } else {
            None
        }
    }
}
