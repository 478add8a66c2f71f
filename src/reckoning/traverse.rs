//! Reconciling after a fix: the closing error is distributed backwards over the run, as a navigator adjusts a traverse.

use super::filter::SmoothedKnot;
use super::reckoner::{Fix, Reckoned, Reckoner, TimeOff};
use crate::quantity::{Band, Estimate, Reading};

/// A run of readings between two fixes, reckoned forward and then reconciled backward.
///
/// `K` is whatever the caller wants to know a marked instant by. A method that keeps no trail (the counter) is left as it
/// was reckoned.
#[derive(Debug)]
pub struct Traverse<K> {
    reckoner: Reckoner,
    marks: Vec<Mark<K>>,
}

#[derive(Debug)]
struct Mark<K> {
    key: K,
    /// Seconds along the trail.
    at_s: f64,
    /// Variance of the charge that no voltage takes away.
    unlearnable: f64,
    live: Reckoned,
}

/// The state of charge at a marked instant, as reckoned at the time and as reconciled with what was learned later.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reconciled<K> {
    /// The caller's mark.
    pub key: K,
    /// As reckoned at the time.
    pub live: Reckoned,
    /// Reconciled state of charge, 0..1.
    pub soc: f64,
    /// Its 95 % band.
    pub band: Band,
}

impl<K: Copy> Traverse<K> {
    /// Begins at a reckoner's present state (just after a fix, or at the start).
    #[must_use]
    pub fn begin(mut reckoner: Reckoner) -> Traverse<K> {
        lay_trail(&mut reckoner);
        Traverse { reckoner, marks: Vec::new() }
    }

    /// The reckoner at work.
    #[must_use]
    pub const fn reckoner(&self) -> &Reckoner {
        &self.reckoner
    }

    /// Takes the next reading, as [`Reckoner::step`].
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        self.reckoner.step(reading)
    }

    /// As [`Reckoner::time_off`], with the load running on as in [`Reckoner::run_on`].
    pub fn time_off(&mut self, off: TimeOff) {
        self.reckoner.run_on(off);
        self.reckoner.time_off(off);
    }

    /// As [`Reckoner::hand_fix`].
    pub fn hand_fix(&mut self, soc: f64, std_dev: f64) -> Fix {
        self.reckoner.hand_fix(soc, std_dev)
    }

    /// Marks the present state, to be reconciled at the end.
    pub fn mark(&mut self, key: K) {
        let (at_s, unlearnable) = match &self.reckoner {
            Reckoner::Filter(filter) => (filter.trail_place(), filter.unlearnable_variance()),
            Reckoner::Counter(_) => (0.0, 0.0),
        };
        self.marks.push(Mark { key, at_s, unlearnable, live: self.reckoner.report() });
    }

    /// Reconciles every mark with all readings and fixes taken, in the order of the marks, and begins anew from here.
    pub fn close(&mut self) -> Vec<Reconciled<K>> {
        let marks = std::mem::take(&mut self.marks);
        let knots = match &mut self.reckoner {
            Reckoner::Filter(filter) => filter.take_trail().map(|trail| trail.smoothed()),
            Reckoner::Counter(_) => None,
        };
        lay_trail(&mut self.reckoner);
        let Some(knots) = knots else {
            return marks.into_iter().map(Mark::left_alone).collect();
        };
        let mut upper = 0;
        marks
            .into_iter()
            .map(|mark| {
                // A mark is made after the fix of its instant, which has a knot before it and one after.
                while upper < knots.len() && knots[upper].at_s <= mark.at_s {
                    upper += 1;
                }
                mark.reconciled(&knots, upper)
            })
            .collect()
    }
}

fn lay_trail(reckoner: &mut Reckoner) {
    if let Reckoner::Filter(filter) = reckoner {
        filter.lay_trail();
    }
}

impl<K> Mark<K> {
    fn left_alone(self) -> Reconciled<K> {
        Reconciled { key: self.key, soc: self.live.soc, band: self.live.soc_band, live: self.live }
    }

    /// Between the knots before and after: correction and doubt change evenly.
    fn reconciled(self, knots: &[SmoothedKnot], upper: usize) -> Reconciled<K> {
        let after = knots[upper.min(knots.len() - 1)];
        let before = knots[upper.saturating_sub(1)];
        let span_s = after.at_s - before.at_s;
        let part = if span_s > 0.0 { ((self.at_s - before.at_s) / span_s).clamp(0.0, 1.0) } else { 0.0 };
        let between = |a: f64, b: f64| a + (b - a) * part;
        let soc = (self.live.soc + between(before.correction, after.correction)).clamp(0.0, 1.0);
        // What no voltage takes away shrinks as the rest does.
        let kept = self.unlearnable * between(before.surer, after.surer);
        let std_dev = between(before.std_dev, after.std_dev).hypot(kept.sqrt());
        let band = Estimate { value: soc, std_dev }.band().clamp(0.0, 1.0);
        Reconciled { key: self.key, live: self.live, soc, band }
    }
}
