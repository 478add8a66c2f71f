//! A day's comparisons.

use serde::{Deserialize, Serialize};

use super::weak::Shortfalls;
use crate::health::day::day_of;
use crate::health::record::{BalanceDay, BalanceState};
use crate::quantity::{Minute, Moment};

/// A balancer's contact counts as closed from this part of a minute, and as open below the rest of it.
const CLOSED: f64 = 0.9;
/// Minutes with the contact one way that say something.
const MINUTES_LEAST: u32 = 10;

/// The comparisons of a day, by state.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Day {
    pub begin: Moment,
    rest: Sums,
    load: Sums,
    charge_end: Sums,
}

#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Sums {
    all: Mean,
    open: Mean,
    closed: Mean,
    current_a: f64,
    balancing: f64,
    balanced: u32,
}

#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Mean {
    minutes: u32,
    deviations_v: Vec<f64>,
}

impl Mean {
    fn take(&mut self, deviations_v: &[f64]) {
        if self.minutes == 0 {
            self.deviations_v = vec![0.0; deviations_v.len()];
        }
        if self.deviations_v.len() != deviations_v.len() {
            return;
        }
        self.minutes += 1;
        for (sum, v) in self.deviations_v.iter_mut().zip(deviations_v) {
            *sum += v;
        }
    }

    fn of(&self, monobloc: usize, least: u32) -> Option<f64> {
        let enough = self.minutes >= least.max(1);
        enough.then(|| self.deviations_v.get(monobloc).map(|sum| sum / f64::from(self.minutes)))?
    }
}

impl Day {
    pub fn new(at: Moment) -> Day {
        Day { begin: day_of(at), rest: Sums::default(), load: Sums::default(), charge_end: Sums::default() }
    }

    pub fn take(&mut self, state: BalanceState, minute: &Minute, current_a: f64, deviations_v: &[f64]) {
        let sums = match state {
            BalanceState::Rest => &mut self.rest,
            BalanceState::Load => &mut self.load,
            BalanceState::ChargeEnd => &mut self.charge_end,
        };
        sums.all.take(deviations_v);
        sums.current_a += current_a;
        if let Some(balancing) = minute.balancing {
            sums.balancing += balancing;
            sums.balanced += 1;
            if balancing >= CLOSED {
                sums.closed.take(deviations_v);
            } else if balancing <= 1.0 - CLOSED {
                sums.open.take(deviations_v);
            }
        }
    }

    /// The records of the day, with what is known of the shortfalls at its end, by seconds lived.
    pub fn results(&self, shortfalls: &[Shortfalls], lived_s: f64) -> Vec<BalanceDay> {
        let states = [
            (BalanceState::Rest, &self.rest),
            (BalanceState::Load, &self.load),
            (BalanceState::ChargeEnd, &self.charge_end),
        ];
        let mut found = Vec::new();
        for (state, sums) in states {
            let minutes = sums.all.minutes;
            for (number, m) in (1..).zip(0..sums.all.deviations_v.len()) {
                let Some(deviation_v) = sums.all.of(m, 1) else { continue };
                let known = || shortfalls.get(m).and_then(|known| known.combined(lived_s));
                found.push(BalanceDay {
                    day: self.begin,
                    state,
                    monobloc: number,
                    deviation_v,
                    minutes,
                    current_a: sums.current_a / f64::from(minutes),
                    balancing: (sums.balanced > 0).then(|| sums.balancing / f64::from(sums.balanced)),
                    contact_open_v: sums.open.of(m, MINUTES_LEAST),
                    contact_closed_v: sums.closed.of(m, MINUTES_LEAST),
                    shortfall: if state == BalanceState::Load { known() } else { None },
                });
            }
        }
        found
    }
}
