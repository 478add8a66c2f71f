//! Reconciling after a fix: the closing error is distributed backwards over the run, as a navigator adjusts a traverse.

use super::reckoner::{Fix, Reckoned, Reckoner, TimeOff};
use crate::quantity::{Band, Reading};

/// A run of readings between two fixes, reckoned forward and then reconciled backward.
///
/// `K` is whatever the caller wants to know a marked instant by.
#[derive(Debug)]
pub struct Traverse<K> {
    reckoner: Reckoner,
    marks: Vec<(K, Reckoned)>,
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
    pub const fn begin(reckoner: Reckoner) -> Traverse<K> {
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
        self.marks.push((key, self.reckoner.report()));
    }

    /// Reconciles every mark with all readings and fixes taken, in the order of the marks, and begins anew from here.
    pub fn close(&mut self) -> Vec<Reconciled<K>> {
        let marks = std::mem::take(&mut self.marks);
        marks.into_iter().map(|(key, live)| Reconciled { key, soc: live.soc, band: live.soc_band, live }).collect()
    }
}
