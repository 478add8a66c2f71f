//! Which monobloc is weak.
//!
//! Each way down from full gives a shortfall of each monobloc, by how far its voltage runs ahead of the others' (see the leg).
//! What is lost together with acid (sulphate, dried-out plates) shows in full; what is lost while the acid stays (shed or
//! softened mass) shows in part, and hardly before the end is near. So a shortfall is rather larger than is said here.
//!
//! All ways go into a random walk that follows what they say, each by its own error; one that surprises weighs less (Student's t,
//! as for capacity). Without ways, as in winter, it grows unsure. A monobloc is named when its shortfall is 4 % or more, on five
//! ways at least, and 1.5 % or more for sure (95 %): coarse enough that makers' tolerances are not named (common
//! practice, no source: monoblocs of one batch differ by a few per cent).

use serde::{Deserialize, Serialize};

use crate::health::record::{BalanceDay, BalanceState};
use crate::quantity::{Estimate, Moment};

/// So many ways are needed.
const WAYS_LEAST: u32 = 5;
/// How far a shortfall strays in a year, 1 σ, ratio (assumed: a failing monobloc loses a few per cent a year on the others).
const DRIFT: f64 = 0.03;
/// Error of a way that its own fit does not show, 1 σ, ratio (assumed).
const WAY: f64 = 0.01;
/// Degrees of freedom of Student's t, as where findings of capacity are combined.
const TAILS: f64 = 4.0;
/// A year, s.
const YEAR_S: f64 = 365.25 * 86_400.0;
/// A shortfall that is named.
const NAMED: f64 = 0.04;
/// 95 % of a normal distribution lie above so many σ below its middle.
const ONE_SIDED: f64 = 1.645;
/// What it must surely be above, by that.
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
    shortfall.value >= NAMED && shortfall.value - ONE_SIDED * shortfall.std_dev >= SURELY
}

/// The shortfall of one monobloc, as all its ways tell it.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Shortfalls {
    /// As of the last way, and seconds lived when it was.
    known: Option<(f64, Estimate)>,
    ways: u32,
    named: bool,
}

impl Shortfalls {
    /// Takes what a way shows; `lived_s` is a clock that goes on over all boots.
    pub fn take(&mut self, lived_s: f64, seen: Estimate) {
        self.ways = self.ways.saturating_add(1);
        let noise = seen.std_dev.powi(2) + WAY * WAY;
        let Some(Estimate { value, std_dev }) = self.expected(lived_s) else {
            self.known = Some((lived_s, Estimate { value: seen.value, std_dev: noise.sqrt() }));
            return;
        };
        let (variance, innovation) = (std_dev * std_dev, seen.value - value);
        let surprise = innovation * innovation / (variance + noise);
        let noise = noise * (TAILS + surprise) / (TAILS + 1.0);
        let gain = variance / (variance + noise);
        let after = Estimate { value: value + gain * innovation, std_dev: (variance * (1.0 - gain)).sqrt() };
        self.known = Some((lived_s, after));
    }

    /// What was known, some time later.
    fn expected(&self, lived_s: f64) -> Option<Estimate> {
        let (at_s, Estimate { value, std_dev }) = self.known?;
        let years = (lived_s - at_s).max(0.0) / YEAR_S;
        Some(Estimate { value, std_dev: std_dev.hypot(DRIFT * years.sqrt()) })
    }

    /// What the ways say together at a time. `None` of too few.
    pub fn combined(&self, lived_s: f64) -> Option<Estimate> {
        let Estimate { value, std_dev } = self.expected(lived_s).filter(|_| self.ways >= WAYS_LEAST)?;
        Some(Estimate { value, std_dev: std_dev.hypot(METHOD * value) })
    }

    /// The shortfall, when the monobloc is to be named: once, until it is found to be in order.
    pub fn name(&mut self, lived_s: f64) -> Option<Estimate> {
        let shortfall = self.combined(lived_s)?;
        if self.named {
            self.named = shortfall.value >= FORGOTTEN;
            return None;
        }
        self.named = is_weak(shortfall);
        self.named.then_some(shortfall)
    }
}
