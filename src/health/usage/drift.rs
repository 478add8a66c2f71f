//! The offset of the current sensor from ways between two full charges.
//!
//! What goes in between them must have come out, but for losses: in - out = offset · time + losses + self-discharge. The
//! losses are the preset's for the depth of the way, times a factor that belongs to the bank, as far from 1 as the preset
//! says that its efficiency may be off. Long ways with little charge
//! tell the offset, short ways with much charge the factor. Both are held by a Kalman filter of two quantities; the offset
//! may wander by its stated error in a month.
//!
//! Offset and factor are hard to tell apart on a boat whose ways are all alike. A change of the offset is not: the losses of
//! like ways are alike. So the ways are also compared with those before them.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::battery::Bank;
use crate::health::robust::centre;
use crate::quantity::Estimate;
use crate::reckoning::gaussian::Gaussian;

const OFFSET: usize = 0;
const LOSSES: usize = 1;
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

/// Ways that are compared with those before them, and how many of those there are at least and at most.
const RECENT: usize = 6;
/// See above.
const BEFORE_LEAST: usize = 6;
/// See above.
const BEFORE_MOST: usize = 30;

/// What is to be told of an offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Drifted {
    /// It is this, A.
    Is(Estimate),
    /// It has moved by this, A.
    MovedBy(Estimate),
}

/// What is known of the sensor's offset.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Drift {
    mean: [f64; 2],
    covariance: [[f64; 2]; 2],
    told_a: f64,
    /// What each of the last ways says of the offset, A, with the factor as it was known then.
    ways_a: VecDeque<Estimate>,
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
        let losses_std_dev = bank.preset().efficiency_std_dev / (1.0 - mean_efficiency(bank, 0.0));
        let prior = Gaussian::independent([0.0, 1.0], [bank.sensor.offset_a, losses_std_dev]);
        Drift { mean: prior.mean, covariance: prior.covariance, told_a: 0.0, ways_a: VecDeque::new() }
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
        self.ways_a
            .push_back(Estimate { value: known.mean[OFFSET] + innovation / hours, std_dev: noise.sqrt() / hours });
        if self.ways_a.len() > BEFORE_MOST + RECENT {
            self.ways_a.pop_front();
        }
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

    /// What is to be told: once for each size and each move.
    pub fn tell(&mut self, bank: &Bank) -> Option<Drifted> {
        let beyond_a = BEYOND_STATED * bank.sensor.offset_a;
        if let Some(moved) = self.moved().filter(|by| by.value.abs() > (SURE * by.std_dev).max(beyond_a)) {
            self.ways_a.drain(..self.ways_a.len() - RECENT);
            // It may be anywhere within that move of where it was thought to be.
            self.covariance[OFFSET][OFFSET] += moved.value.powi(2);
            self.told_a = self.mean[OFFSET] + moved.value;
            return Some(Drifted::MovedBy(moved));
        }
        let offset = self.offset_a();
        let away = |from: f64| (offset.value - from).abs() > (SURE * offset.std_dev).max(beyond_a);
        if !away(self.told_a) {
            return None;
        }
        if !away(0.0) {
            self.told_a = 0.0;
            return None;
        }
        self.told_a = offset.value;
        Some(Drifted::Is(offset))
    }

    /// By how much the last ways differ from those before.
    fn moved(&self) -> Option<Estimate> {
        let before = self.ways_a.len().checked_sub(RECENT).filter(|&ways| ways >= BEFORE_LEAST)?;
        let of = |from, to| centre(&self.ways_a.range(from..to).copied().collect::<Vec<_>>());
        let (before, now) = (of(0, before)?, of(before, self.ways_a.len())?);
        Some(Estimate { value: now.value - before.value, std_dev: now.std_dev.hypot(before.std_dev) })
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
