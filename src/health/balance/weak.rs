//! Which monobloc is weak.
//!
//! Each way down from full gives a shortfall of each monobloc, by how far its voltage runs ahead of the others' (see the leg).
//! What is lost together with acid (sulphate, dried-out plates) shows in full; what is lost while the acid stays (shed or
//! softened mass) shows in part, and hardly before the end is near. So a shortfall is rather larger than is said here.
//!
//! The median of the last ways of some months is taken, with its error from their own errors, their scatter, and what the
//! method itself leaves in doubt. A monobloc is named when it is 4 % or more, on five ways at least, and the lower edge of
//! its band 1.5 % or more: coarse enough that makers' tolerances are not named (common practice, no source: monoblocs of
//! one batch differ by a few per cent).

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::health::record::{BalanceDay, BalanceState};
use crate::health::robust::centre;
use crate::quantity::{Estimate, Moment, Z95};

/// Ways that are remembered, and how many are needed.
const WAYS_MOST: usize = 9;
/// See above.
const WAYS_LEAST: usize = 5;
/// Ways further back than this say how it was, not how it is, s (assumed).
const WAYS_OLD_S: f64 = 150.0 * 86_400.0;
/// A shortfall that is named.
const NAMED: f64 = 0.04;
/// What it must be surely above.
const SURELY: f64 = 0.015;
/// One that was named is forgotten below this.
const FORGOTTEN: f64 = 0.025;
/// What the method leaves in doubt, in parts of the shortfall (assumed; see above for what it does not see).
const METHOD: f64 = 0.25;

/// A monobloc whose capacity lies behind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weak {
    /// Which, from 1.
    pub monobloc: u32,
    /// By how much less it holds than the others, ratio.
    pub shortfall: Estimate,
    /// The day that says so.
    pub day: Moment,
}

/// The weakest monobloc, if one is weak, by the records of some days in the order they were lived.
#[must_use]
pub fn weakest(days: &[BalanceDay]) -> Option<Weak> {
    let last = days.iter().rev().find(|day| day.shortfall.is_some())?.day;
    days.iter()
        .filter(|day| day.day == last && day.state == BalanceState::Load)
        .filter_map(|day| Some(Weak { monobloc: day.monobloc, shortfall: day.shortfall?, day: last }))
        .filter(|weak| is_weak(weak.shortfall))
        .max_by(|a, b| a.shortfall.value.total_cmp(&b.shortfall.value))
}

fn is_weak(shortfall: Estimate) -> bool {
    shortfall.value >= NAMED && shortfall.value - Z95 * shortfall.std_dev >= SURELY
}

/// The shortfalls of one monobloc, way by way.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Shortfalls {
    /// What was seen, and seconds lived when it was.
    ways: VecDeque<(f64, Estimate)>,
    named: bool,
}

impl Shortfalls {
    /// Takes what a way shows; `lived_s` is a clock that goes on over all boots.
    pub fn take(&mut self, lived_s: f64, seen: Estimate) {
        if self.ways.len() >= WAYS_MOST {
            self.ways.pop_front();
        }
        self.ways.retain(|way| lived_s - way.0 <= WAYS_OLD_S);
        self.ways.push_back((lived_s, seen));
    }

    /// What the ways say together. `None` of too few.
    pub fn combined(&self) -> Option<Estimate> {
        // Ways that say next to nothing do not vote where others do.
        let best = self.ways.iter().map(|way| way.1.std_dev).fold(f64::INFINITY, f64::min);
        let sure: Vec<Estimate> = self.ways.iter().map(|way| way.1).filter(|way| way.std_dev <= 3.0 * best).collect();
        if sure.len() < WAYS_LEAST {
            return None;
        }
        let Estimate { value, std_dev } = centre(&sure)?;
        Some(Estimate { value, std_dev: std_dev.hypot(METHOD * value) })
    }

    /// The shortfall, when the monobloc is to be named: once, until it is found to be in order.
    pub fn name(&mut self) -> Option<Estimate> {
        let shortfall = self.combined()?;
        if self.named {
            self.named = shortfall.value >= FORGOTTEN;
            return None;
        }
        self.named = is_weak(shortfall);
        self.named.then_some(shortfall)
    }
}
