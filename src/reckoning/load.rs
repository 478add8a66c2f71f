//! The recent mean current: what "at the present load" means.

use serde::{Deserialize, Serialize};

/// Time constant of the mean, s. Ten minutes smooths a compressor's cycling and follows a change of throttle within a
/// quarter of an hour (assumed).
const TIME_CONSTANT_S: f64 = 600.0;

/// Exponentially weighted mean of the current; young means weigh all they have seen equally.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct MeanLoad {
    mean_a: f64,
    seen_s: f64,
}

impl MeanLoad {
    /// Takes the mean current over the last `dt_s` seconds.
    pub fn add(&mut self, dt_s: f64, current_a: f64) {
        if dt_s <= 0.0 {
            return;
        }
        self.seen_s += dt_s;
        let weight =
            if self.seen_s < TIME_CONSTANT_S { dt_s / self.seen_s } else { 1.0 - (-dt_s / TIME_CONSTANT_S).exp() };
        self.mean_a += weight * (current_a - self.mean_a);
    }

    /// The mean, A, positive charging; `None` before the first interval.
    #[must_use]
    pub fn mean_a(&self) -> Option<f64> {
        (self.seen_s > 0.0).then_some(self.mean_a)
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
            load.add(10.0, current);
        }
        assert!((load.mean_a().expect("seen") + 3.0).abs() < 1e-12);
    }

    #[test]
    fn a_step_is_followed_to_63_percent_in_one_time_constant() {
        let mut load = MeanLoad::default();
        (0..3600).for_each(|_| load.add(1.0, -10.0));
        (0..600).for_each(|_| load.add(1.0, -20.0));
        assert!((load.mean_a().expect("seen") + 10.0 + 10.0 * (1.0 - (-1.0_f64).exp())).abs() < 0.01);
    }
}
