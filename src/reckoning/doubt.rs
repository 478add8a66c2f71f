//! The counter's error budget: what could have gone wrong since the last fix, source by source.
//!
//! Errors of a current sensor are systematic: an offset grows linearly with time, a gain error with throughput (the
//! classes of Movassagh et al., Energies 14 (2021) 4074). They are not noise and do not average out, so each source
//! stays linear in its cause; the sources are independent of each other and add in quadrature. What is bounded but not
//! random (an unwatched gap) is added outside the quadrature, each side for itself.

use serde::{Deserialize, Serialize};

use super::terms::UNSEEN_AFTER_S;
use crate::battery::Bank;
use crate::quantity::Z95;

/// 1 σ of a capacity that nobody has measured yet, in parts of the rating (assumed: banks leave the works within 10 %).
pub const CAPACITY_STD_DEV_RATIO: f64 = 0.05;

/// What has piled up since the last fix.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Doubt {
    /// 1 σ of the state of charge at the start or the fix.
    pub start_soc_std_dev: f64,
    /// Watched time since, s.
    pub elapsed_s: f64,
    /// Charge moved either way since, Ah.
    pub throughput_ah: f64,
    /// Charge put in since, before losses, Ah.
    pub charged_ah: f64,
    /// Net charge drawn since by the plain count, Ah (negative if charged).
    pub net_drawn_ah: f64,
    /// Variance of the charge moved unseen between readings that lie apart, Ah².
    pub bridged_ah2: f64,
    /// Charge that may have gone while nobody looked, Ah.
    pub unseen_out_ah: f64,
    /// Charge that may have come while nobody looked, Ah.
    pub unseen_in_ah: f64,
}

impl Doubt {
    /// Doubt at a fix or a start that is sure to `soc_std_dev`.
    #[must_use]
    pub fn fresh(soc_std_dev: f64) -> Doubt {
        Doubt {
            start_soc_std_dev: soc_std_dev,
            elapsed_s: 0.0,
            throughput_ah: 0.0,
            charged_ah: 0.0,
            net_drawn_ah: 0.0,
            bridged_ah2: 0.0,
            unseen_out_ah: 0.0,
            unseen_in_ah: 0.0,
        }
    }

    /// Adds an interval over which the current is known at its ends only: it may have been anything between, so half the
    /// difference is one standard deviation. Intervals are independent, their variances add.
    pub fn bridge(&mut self, dt_s: f64, from_a: f64, to_a: f64) {
        if dt_s > UNSEEN_AFTER_S {
            self.bridged_ah2 += ((from_a - to_a) / 2.0 * dt_s / 3600.0).powi(2);
        }
    }

    /// Adds a watched interval: `moved_ah` positive charges, `kept_ah` is what stays of it after charging losses.
    pub fn count(&mut self, dt_s: f64, moved_ah: f64, kept_ah: f64) {
        self.elapsed_s += dt_s;
        self.throughput_ah += moved_ah.abs();
        self.charged_ah += moved_ah.max(0.0);
        self.net_drawn_ah -= kept_ah;
    }

    /// Half-widths of the 95 % band below and above the count, in state of charge.
    #[must_use]
    pub fn half_widths(&self, bank: &Bank) -> (f64, f64) {
        let capacity = bank.rated_capacity_ah;
        let offset = bank.sensor.offset_a * self.elapsed_s / 3600.0 / capacity;
        let gain = bank.sensor.gain * self.throughput_ah / capacity;
        let efficiency = bank.preset().efficiency_std_dev * self.charged_ah / capacity;
        let of_capacity = CAPACITY_STD_DEV_RATIO * self.net_drawn_ah / capacity;
        let bridged = self.bridged_ah2.sqrt() / capacity;
        let std_dev = [self.start_soc_std_dev, offset, gain, efficiency, of_capacity, bridged]
            .into_iter()
            .fold(0.0_f64, f64::hypot);
        let random = Z95 * std_dev;
        (random + self.unseen_out_ah / capacity, random + self.unseen_in_ah / capacity)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::{Chemistry, SensorError};

    fn bank() -> Bank {
        let mut bank = Bank::new("house", Chemistry::Lfp, 8, 100.0, 20.0).expect("possible");
        bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
        bank
    }

    #[test]
    fn an_offset_of_fifty_milliamperes_costs_1_2_percent_a_day() {
        // 50 mA x 24 h = 1.2 Ah of 100 Ah (arithmetic); the band is 1.96 times that.
        let mut doubt = Doubt::fresh(0.0);
        doubt.count(86_400.0, 0.0, 0.0);
        let (below, above) = doubt.half_widths(&bank());
        assert!((below / Z95 - 0.012).abs() < 1e-9 && (above - below).abs() < 1e-12);
    }

    #[test]
    fn offset_doubt_grows_linearly_and_not_with_the_square_root_of_time() {
        let mut day = Doubt::fresh(0.0);
        day.count(86_400.0, 0.0, 0.0);
        let mut four = Doubt::fresh(0.0);
        four.count(4.0 * 86_400.0, 0.0, 0.0);
        assert!((four.half_widths(&bank()).0 / day.half_widths(&bank()).0 - 4.0).abs() < 1e-9);
    }

    #[test]
    fn what_nobody_saw_widens_its_own_side_only() {
        let mut doubt = Doubt::fresh(0.01);
        doubt.unseen_out_ah = 10.0;
        let (below, above) = doubt.half_widths(&bank());
        assert!((below - above - 0.10).abs() < 1e-9);
    }
}
