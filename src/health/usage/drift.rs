//! The offset of the current sensor from ways between two full charges.
//!
//! What goes in between them must have come out, but for losses: in - out = offset · time + losses + self-discharge. The
//! losses are the preset's for the depth of the way, times a factor that belongs to the bank. Long ways with little charge
//! tell the offset, short ways with much charge the factor. Both are held by a Kalman filter of two quantities; the offset
//! may wander by its stated error in a month.

use serde::{Deserialize, Serialize};

use crate::battery::Bank;
use crate::quantity::Estimate;
use crate::reckoning::gaussian::Gaussian;

const OFFSET: usize = 0;
const LOSSES: usize = 1;
/// 1 σ of the factor on the preset's losses (assumed, as for reckoning).
const LOSSES_STD_DEV: f64 = 1.0;
/// 1 σ of one way's losses against another's of equal depth, ratio (assumed: chargers hold for longer or shorter).
const LOSSES_SCATTER: f64 = 0.3;
/// Time in which the offset may wander by its stated error, s.
const WANDERS_S: f64 = 30.0 * 86_400.0;
/// Surprises that are believed in full, in σ.
const SURPRISE: f64 = 3.0;
/// Times its own error, and times the stated one, that an offset must be to be told.
const SURE: f64 = 3.0;
/// See above.
const BEYOND_STATED: f64 = 2.0;

/// What is known of the sensor's offset.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Drift {
    mean: [f64; 2],
    covariance: [[f64; 2]; 2],
    told_a: f64,
}

/// A way from full to full, as far as the offset needs it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Way {
    pub in_ah: f64,
    pub out_ah: f64,
    pub seconds: f64,
    pub lowest_soc: f64,
    /// 1 σ of the charge at both ends and of what nobody saw, Ah.
    pub ends_ah: f64,
}

impl Drift {
    pub fn new(bank: &Bank) -> Drift {
        let prior = Gaussian::independent([0.0, 1.0], [bank.sensor.offset_a, LOSSES_STD_DEV]);
        Drift { mean: prior.mean, covariance: prior.covariance, told_a: 0.0 }
    }

    /// Learns from a way. `since_s` is the time since the way before ended, its own included.
    pub fn learn(&mut self, bank: &Bank, way: &Way, since_s: f64) {
        let mut known = Gaussian { mean: self.mean, covariance: self.covariance };
        let wander = bank.sensor.offset_a.powi(2) * since_s / WANDERS_S;
        known.spread(&[], &[(OFFSET, wander)]);
        let hours = way.seconds / 3600.0;
        let losses_ah = way.in_ah * (1.0 - mean_efficiency(bank, way.lowest_soc));
        let gone_ah = bank.preset().self_discharge_per_day * bank.rated_capacity_ah * hours / 24.0;
        let expected = known.mean[OFFSET] * hours + known.mean[LOSSES] * losses_ah + gone_ah;
        let noise = way.ends_ah.powi(2) + (LOSSES_SCATTER * losses_ah).powi(2) + gone_ah.powi(2);
        let innovation = way.in_ah - way.out_ah - expected;
        let row = [(OFFSET, hours), (LOSSES, losses_ah)];
        // A surprise beyond 3 σ is weighed as one of 3 σ: a way with an odd end must not turn everything over.
        let beyond = innovation.abs() / (SURPRISE * (known.variance_of(&row) + noise).sqrt());
        known.update(&row, innovation, noise * beyond.max(1.0).powi(2));
        self.mean = known.mean;
        self.covariance = known.covariance;
    }

    /// What the sensor reads at zero, A; positive: too much charge.
    pub fn offset_a(&self) -> Estimate {
        Estimate { value: self.mean[OFFSET], std_dev: self.covariance[OFFSET][OFFSET].max(0.0).sqrt() }
    }

    /// The offset, when it is to be told: once for each size.
    pub fn tell(&mut self, bank: &Bank) -> Option<Estimate> {
        let offset = self.offset_a();
        let away = |from: f64| {
            let by = (offset.value - from).abs();
            by > SURE * offset.std_dev && by > BEYOND_STATED * bank.sensor.offset_a
        };
        if !away(self.told_a) {
            return None;
        }
        if !away(0.0) {
            self.told_a = 0.0;
            return None;
        }
        self.told_a = offset.value;
        Some(offset)
    }
}

/// The preset's efficiency of charging from a state of charge up to full.
fn mean_efficiency(bank: &Bank, from: f64) -> f64 {
    const PIECES: u32 = 20;
    let from = from.clamp(0.0, 0.99);
    let piece = |i: u32| from + (1.0 - from) * (f64::from(i) + 0.5) / f64::from(PIECES);
    // Charge held grows evenly; what must go in for it is its inverse efficiency.
    let needed: f64 = (0..PIECES).map(|i| 1.0 / bank.preset().efficiency.at(piece(i))).sum();
    f64::from(PIECES) / needed
}
