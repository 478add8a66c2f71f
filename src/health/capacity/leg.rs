//! What is counted between two ends.

use serde::{Deserialize, Serialize};

use crate::battery::Bank;
use crate::quantity::{Minute, Moment};

/// Over how much time of discharge the load before a cut-off is averaged, s: the time in which a plate's or particle's
/// charge evens out, about an hour (the wells of the reckoning, assumed there).
const RECENT_S: f64 = 3600.0;

/// How much of the doubt of the losses is a leg's own, 1 σ (assumed: half).
const OWN_LOSSES: f64 = 0.5;

/// Sums since an end. Charges in Ah.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Leg {
    /// The end it begins at.
    pub from: Moment,
    /// Time, watched or not, s.
    pub seconds: f64,
    /// Charge taken out.
    pub out_ah: f64,
    /// Charge put in.
    pub in_ah: f64,
    /// 1 σ of what moved while nobody watched.
    pub unseen_ah: f64,
    out_load: f64,
    out_temperature: f64,
    out_felt_ah: f64,
    /// Mean load of the last hour of discharge, A (≥ 0).
    pub recent_a: f64,
    discharge_s: f64,
}

impl Leg {
    /// Nothing counted.
    #[must_use]
    pub fn begin(from: Moment) -> Leg {
        Leg {
            from,
            seconds: 0.0,
            out_ah: 0.0,
            in_ah: 0.0,
            unseen_ah: 0.0,
            out_load: 0.0,
            out_temperature: 0.0,
            out_felt_ah: 0.0,
            recent_a: 0.0,
            discharge_s: 0.0,
        }
    }

    /// Adds time that nobody watched, with the current on either side of it, A: it may have been any of these, or the worst
    /// that stands on the bank unnoticed.
    pub fn unseen(&mut self, bank: &Bank, seconds: f64, before_a: f64, after_a: f64) {
        let worst_a = bank.standing_load_a.max(before_a.abs()).max(after_a.abs());
        self.seconds += seconds;
        self.unseen_ah += worst_a * seconds / 3600.0;
    }

    /// Adds a minute.
    pub fn add(&mut self, minute: &Minute) {
        let out_ah = minute.charge_out_ah;
        self.seconds += minute.covered_s;
        self.out_ah += out_ah;
        self.in_ah += minute.charge_in_ah;
        if out_ah <= minute.charge_in_ah || minute.covered_s <= 0.0 {
            return;
        }
        let load_a = out_ah * 3600.0 / minute.covered_s;
        self.out_load += out_ah * load_a;
        if let Some(temperature_c) = minute.temperature_c {
            self.out_temperature += out_ah * temperature_c;
            self.out_felt_ah += out_ah;
        }
        self.discharge_s += minute.covered_s;
        let part = minute.covered_s / self.discharge_s.min(RECENT_S);
        self.recent_a += (load_a - self.recent_a) * part.min(1.0);
    }

    /// Charge drawn, less what came in and stayed, self-discharge added; `efficiency` of charging.
    #[must_use]
    pub fn drawn_ah(&self, bank: &Bank, efficiency: f64) -> f64 {
        let leaked = bank.preset().self_discharge_per_day * bank.rated_capacity_ah * self.seconds / 86_400.0;
        self.out_ah - efficiency * self.in_ah + leaked
    }

    /// Variance of the charge moved, Ah²: charging losses and what nobody saw.
    #[must_use]
    pub fn variance_ah2(&self, bank: &Bank) -> f64 {
        (bank.preset().efficiency_std_dev * self.in_ah).powi(2) + self.unseen_ah.powi(2)
    }

    /// The part of it that is this leg's own, Ah²: a bank's losses differ from the preset's in all its legs alike.
    #[must_use]
    pub fn own_variance_ah2(&self, bank: &Bank) -> f64 {
        (OWN_LOSSES * bank.preset().efficiency_std_dev * self.in_ah).powi(2) + self.unseen_ah.powi(2)
    }

    /// Load at which the charge was taken out, A (≥ 0): each ampere-hour counts alike, so hours of next to nothing before
    /// the load do not.
    #[must_use]
    pub fn load_a(&self) -> f64 {
        if self.out_ah > 0.0 { self.out_load / self.out_ah } else { 0.0 }
    }

    /// Temperature at which the charge was taken out, °C.
    #[must_use]
    pub fn temperature_c(&self) -> Option<f64> {
        (self.out_felt_ah > 0.0).then(|| self.out_temperature / self.out_felt_ah)
    }

    /// Hours, watched or not.
    #[must_use]
    pub fn hours(&self) -> f64 {
        self.seconds / 3600.0
    }
}

/// Efficiency of charging that ends short of full: of lead, hardly any gas is made there.
#[must_use]
pub fn efficiency_below_full(bank: &Bank) -> f64 {
    bank.preset().efficiency.at(0.5)
}

/// Efficiency of charging from a state of charge to full, and on the way there in general.
#[must_use]
pub fn efficiency_between(bank: &Bank, from: f64, to: f64) -> f64 {
    const STEPS: u32 = 40;
    let curve = &bank.preset().efficiency;
    let needed: f64 =
        (0..STEPS).map(|i| 1.0 / curve.at(from + (to - from) * (f64::from(i) + 0.5) / f64::from(STEPS))).sum();
    f64::from(STEPS) / needed
}
