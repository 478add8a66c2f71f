//! The recent mean current: what "at the present load" means.

use serde::{Deserialize, Serialize};

/// Time constant of the mean, s. Ten minutes smooths a compressor's cycling (assumed).
const TIME_CONSTANT_S: f64 = 600.0;
/// Least change of the load that makes another one, A per Ah of rated capacity (assumed).
pub const LOAD_CHANGE_RATE: f64 = 0.03;
/// A change of the load that is larger than this part of the mean, and that lasts so many seconds,
/// is another load: a motor started or a charger ended. The mean then begins with it (assumed).
const CHANGE_RATIO: f64 = 0.5;
const CHANGE_S: f64 = 180.0;

/// Exponentially weighted mean of the current; young means weigh all they have seen equally.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct MeanLoad {
    mean_a: f64,
    seen_s: f64,
    latest_a: f64,
    changed: Changed,
}

/// A load that is far from the mean, since it came.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
struct Changed {
    charge_as: f64,
    seconds: f64,
}

impl MeanLoad {
    /// Takes the mean current over the last `dt_s` seconds; changes below `least_change_a` are none.
    pub fn add(&mut self, dt_s: f64, current_a: f64, least_change_a: f64) {
        if dt_s <= 0.0 {
            return;
        }
        self.latest_a = current_a;
        self.look_for_change(dt_s, current_a, least_change_a);
        self.seen_s += dt_s;
        let weight =
            if self.seen_s < TIME_CONSTANT_S { dt_s / self.seen_s } else { 1.0 - (-dt_s / TIME_CONSTANT_S).exp() };
        self.mean_a += weight * (current_a - self.mean_a);
    }

    fn look_for_change(&mut self, dt_s: f64, current_a: f64, least_change_a: f64) {
        let far = (CHANGE_RATIO * self.mean_a.abs()).max(least_change_a);
        if self.seen_s <= 0.0 || (current_a - self.mean_a).abs() <= far {
            self.changed = Changed::default();
            return;
        }
        self.changed.charge_as += current_a * dt_s;
        self.changed.seconds += dt_s;
        if self.changed.seconds >= CHANGE_S {
            let Changed { charge_as, seconds } = std::mem::take(&mut self.changed);
            self.mean_a = charge_as / seconds;
            self.seen_s = seconds;
        }
    }

    /// The mean, A, positive charging; `None` before the first interval.
    #[must_use]
    pub fn mean_a(&self) -> Option<f64> {
        (self.seen_s > 0.0).then_some(self.mean_a)
    }

    /// The current over the last interval, A.
    #[must_use]
    pub const fn latest_a(&self) -> f64 {
        self.latest_a
    }

    /// Forgets what it saw: after a gap the old load says nothing.
    pub fn forget(&mut self) {
        *self = MeanLoad::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_young_mean_is_the_plain_mean() {
        let mut load = MeanLoad::default();
        assert_eq!(load.mean_a(), None);
        for current in [-1.0, -3.0, -5.0] {
            load.add(10.0, current, 100.0);
        }
        assert!((load.mean_a().expect("seen") + 3.0).abs() < 1e-12);
    }

    #[test]
    fn a_step_is_followed_to_63_percent_in_one_time_constant() {
        let mut load = MeanLoad::default();
        (0..3600).for_each(|_| load.add(1.0, -10.0, 100.0));
        (0..600).for_each(|_| load.add(1.0, -20.0, 100.0));
        assert!((load.mean_a().expect("seen") + 10.0 + 10.0 * (1.0 - (-1.0_f64).exp())).abs() < 0.01);
    }

    #[test]
    fn another_load_that_lasts_is_taken_for_what_it_is() {
        let mut load = MeanLoad::default();
        (0..3600).for_each(|_| load.add(1.0, -10.0, 3.0));
        (0..170).for_each(|_| load.add(1.0, -60.0, 3.0));
        assert!(load.mean_a().expect("seen") > -25.0, "it may be a compressor's start");
        (0..100).for_each(|_| load.add(1.0, -60.0, 3.0));
        assert!((load.mean_a().expect("seen") + 60.0).abs() < 1e-9);
    }
}
