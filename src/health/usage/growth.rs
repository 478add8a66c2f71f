//! A standing load that has grown: a change is seen far below the stated errors of the sensors, because an offset stays.
//!
//! Rule: the lowest load of the last three days lies above the median of up to 45 such days before, by more than five
//! times their scatter and by more than all sensors' offsets together may wander within their stated error (twice the root
//! of the sum of their squares). What changes slowly moves the baseline with it and is not told.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::health::robust::median;
use crate::health::robust::middle_and_spread;

/// Days that the baseline rests on at most, and at least.
const DAYS_MOST: usize = 45;
/// See above.
const DAYS_LEAST: usize = 5;
/// Days that must show it.
const RECENT: usize = 3;
/// Times the scatter of the days.
const TIMES: f64 = 5.0;
/// Times the stated errors.
const TIMES_STATED: f64 = 2.0;

/// Daily loads, A (≥ 0 is a load), the latest last.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Growth {
    days_a: VecDeque<f64>,
}

/// By how much it has changed.
#[derive(Debug, Clone, Copy)]
pub(super) struct Changed {
    /// The load before, A.
    pub before_a: f64,
    /// What was added, A; negative: what has gone.
    pub added_a: f64,
}

impl Growth {
    /// Takes a day's load. `stated_a` is the error of all sensors together (1 σ, A), `part` the part of the load that may
    /// come and go unasked.
    pub fn take(&mut self, load_a: f64, stated_a: f64, part: f64) -> Option<Changed> {
        self.days_a.push_back(load_a);
        if self.days_a.len() > DAYS_MOST + RECENT {
            self.days_a.pop_front();
        }
        let baseline = self.days_a.len().checked_sub(RECENT).filter(|&days| days >= DAYS_LEAST)?;
        let (before_a, spread) = middle_and_spread(&self.days_a.range(..baseline).copied().collect::<Vec<_>>())?;
        let least = (TIMES * spread).max(TIMES_STATED * stated_a).max(part * before_a.abs());
        let mut recent_a: Vec<f64> = self.days_a.range(baseline..).map(|load| load - before_a).collect();
        let lowest = recent_a.iter().copied().fold(f64::INFINITY, f64::min);
        let highest = recent_a.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if lowest <= least && highest >= -least {
            return None;
        }
        // What it is now is what is usual from now on.
        self.days_a.drain(..baseline);
        Some(Changed { before_a, added_a: median(&mut recent_a)? })
    }
}
