//! Reconciling after a fix: the closing error is distributed backwards over the run, as a navigator adjusts a traverse.

use super::filter::{Place, SmoothedKnot, SmoothedWays};
use super::reckoner::Reckoner;
use super::terms::{Fix, Reckoned, TimeOff};
use crate::quantity::{Band, Estimate, Reading};

/// A run of readings between two fixes, reckoned forward and then reconciled backward.
///
/// `K` is whatever the caller wants to know a marked instant by. A method that keeps no ways (the counter) is left as it
/// was reckoned.
#[derive(Debug)]
pub struct Traverse<K> {
    reckoner: Reckoner,
    marks: Vec<Mark<K>>,
}

#[derive(Debug)]
struct Mark<K> {
    key: K,
    place: Place,
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
        lay_ways(&mut reckoner);
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
        let place = match &self.reckoner {
            Reckoner::Filter(filter) => filter.place(),
            Reckoner::Counter(_) => Place::default(),
        };
        self.marks.push(Mark { key, place, live: self.reckoner.report() });
    }

    /// Reconciles every mark with all readings and fixes taken, in the order of the marks, and begins anew from here.
    pub fn close(&mut self) -> Vec<Reconciled<K>> {
        let marks = std::mem::take(&mut self.marks);
        let ways = match &mut self.reckoner {
            Reckoner::Filter(filter) => filter.take_ways().map(|ways| ways.smoothed()),
            Reckoner::Counter(_) => None,
        };
        lay_ways(&mut self.reckoner);
        match ways {
            Some(ways) => marks.into_iter().map(|mark| mark.reconciled(&ways)).collect(),
            None => marks.into_iter().map(Mark::left_alone).collect(),
        }
    }
}

fn lay_ways(reckoner: &mut Reckoner) {
    if let Reckoner::Filter(filter) = reckoner {
        filter.lay_ways();
    }
}

/// What smoothing changes at a place of a way.
struct Adjusted {
    correction: f64,
    std_dev: f64,
    surer: f64,
}

/// Between the knots before and after a place: correction and doubt change evenly.
fn between(knots: &[SmoothedKnot], at_s: f64) -> Adjusted {
    let upper = knots.partition_point(|knot| knot.at_s <= at_s);
    let after = knots[upper.min(knots.len() - 1)];
    let before = knots[upper.saturating_sub(1)];
    let span_s = after.at_s - before.at_s;
    let part = if span_s > 0.0 { ((at_s - before.at_s) / span_s).clamp(0.0, 1.0) } else { 0.0 };
    let mix = |a: f64, b: f64| a + (b - a) * part;
    Adjusted {
        correction: mix(before.correction, after.correction),
        std_dev: mix(before.std_dev, after.std_dev),
        surer: mix(before.surer, after.surer),
    }
}

impl<K> Mark<K> {
    fn left_alone(self) -> Reconciled<K> {
        Reconciled { key: self.key, soc: self.live.soc, band: self.live.soc_band, live: self.live }
    }

    /// Both ways, the surer one weighing more. They share most of their errors, so the mean is taken to be as unsure as the
    /// two are on average.
    fn reconciled(self, ways: &SmoothedWays) -> Reconciled<K> {
        let Place { at_s, unlearnable, counted_soc } = self.place;
        let filter = between(&ways.filter, at_s);
        let counted = between(&ways.counted, at_s);
        // What no voltage takes away shrinks as the rest does.
        let filter_variance = (filter.std_dev.powi(2) + unlearnable * filter.surer).max(f64::MIN_POSITIVE);
        let counted_variance = counted.std_dev.powi(2).max(f64::MIN_POSITIVE);
        let weight = counted_variance / (filter_variance + counted_variance);
        let by_filter = self.live.soc + filter.correction;
        let by_count = counted_soc + counted.correction;
        let soc = (weight * by_filter + (1.0 - weight) * by_count).clamp(0.0, 1.0);
        let variance = weight * filter_variance + (1.0 - weight) * counted_variance;
        let band = Estimate { value: soc, std_dev: variance.sqrt() }.band().clamp(0.0, 1.0);
        Reconciled { key: self.key, live: self.live, soc, band }
    }
}
