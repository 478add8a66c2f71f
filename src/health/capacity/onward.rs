//! What a capacity comes to while nothing measures it.

use serde::{Deserialize, Serialize};

use crate::quantity::Estimate;

/// How far the fade strays in a year, ln a year (assumed: a knee trebles 2 % a year within a year or two).
pub const FADE_DRIFT: f64 = 0.02;
/// What the capacity does beside its fade in a year, 1 σ (assumed: sulphate and its going, seasons).
pub const LEVEL_DRIFT: f64 = 0.005;
/// A year, s.
pub const YEAR_S: f64 = 365.25 * 86_400.0;

/// The fade as it was known with the last finding: how the capacity goes on from there.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Onward {
    /// Change of the capacity in a year, ln.
    pub fade: Estimate,
    /// Covariance of it with the capacity's ln.
    pub with_capacity: f64,
}

impl Onward {
    /// The capacity so many seconds later, in the unit that it is given in.
    #[must_use]
    pub fn carry(&self, capacity: Estimate, seconds: f64) -> Estimate {
        let years = (seconds / YEAR_S).max(0.0);
        let value = capacity.value * (self.fade.value * years).exp();
        let variance = (capacity.std_dev / capacity.value).powi(2)
            + 2.0 * years * self.with_capacity
            + (years * self.fade.std_dev).powi(2)
            + strayed(years);
        Estimate { value, std_dev: value * variance.max(0.0).sqrt() }
    }
}

/// Variance of ln capacity that some years bring of themselves: a walk of its own, and that of the fade, summed up.
fn strayed(years: f64) -> f64 {
    LEVEL_DRIFT * LEVEL_DRIFT * years + FADE_DRIFT * FADE_DRIFT * years.powi(3) / 3.0
}
