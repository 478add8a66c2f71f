//! Recursive total least squares with forgetting: capacity as the slope of charge against fall of the state of charge, where
//! both are measured with error.
//!
//! Source: G. L. Plett, J. Power Sources 196 (2011) 2319, "approximate weighted total least squares" (AWTLS). Ordinary least
//! squares takes the fall of charge to be exact, and comes out too low by that. The method takes all errors to be independent
//! of each other, which those of a shunt and of a rest-voltage curve are not: that is why it is the yardstick here, and
//! [`super::Combined`] the estimate.

use serde::{Deserialize, Serialize};

use crate::quantity::Estimate;

/// Weighted sums over all pairs so far.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct TotalLeastSquares {
    /// Σ of x², xy, y² over the variance of y, then over that of x; y in units in which both errors are alike.
    sums: [f64; 6],
    /// 1 σ of x over 1 σ of y, as is usual: the unit of y.
    scale: f64,
    /// What all earlier pairs weigh when another comes.
    forgetting: f64,
}

impl TotalLeastSquares {
    /// Nothing seen. `scale`: the usual error of x over the usual error of y; `forgetting`: 1 remembers all alike.
    #[must_use]
    pub fn new(scale: f64, forgetting: f64) -> TotalLeastSquares {
        TotalLeastSquares { sums: [0.0; 6], scale, forgetting }
    }

    /// Starts from a slope that is known beforehand, as if the pair (1, `slope`) had been seen.
    #[must_use]
    pub fn knowing(mut self, slope: Estimate) -> TotalLeastSquares {
        let y = self.scale * slope.value;
        let weight = 1.0 / (self.scale * slope.std_dev).powi(2);
        self.sums = [weight, weight * y, weight * y * y, weight, weight * y, weight * y * y];
        self
    }

    /// Takes a pair: fall of the state of charge and charge, each with its error.
    pub fn add(&mut self, x: Estimate, y: Estimate) {
        let (a, b) = (x.value, self.scale * y.value);
        let of_y = 1.0 / (self.scale * y.std_dev).powi(2);
        let of_x = 1.0 / x.std_dev.powi(2);
        let new = [of_y * a * a, of_y * a * b, of_y * b * b, of_x * a * a, of_x * a * b, of_x * b * b];
        for (sum, new) in self.sums.iter_mut().zip(new) {
            *sum = self.forgetting * *sum + new;
        }
    }

    /// The slope; `None` before a pair.
    #[must_use]
    pub fn slope(&self) -> Option<Estimate> {
        let [c1, c2, c3, c4, c5, c6] = self.sums;
        if c1 <= 0.0 || c2 <= 0.0 {
            return None;
        }
        // Where the cost is least its derivative rises through zero: near the slope that takes x to be exact.
        let falling = |r: f64| {
            let cubic = (c5 * r - c1 + 2.0 * c4 - c6) * r + 3.0 * (c2 - c5);
            (cubic * r + c1 - 2.0 * c3 + c6) * r - c2 < 0.0
        };
        let (mut low, mut high) = (0.5 * c2 / c1, 2.0 * c2 / c1);
        if !falling(low) || falling(high) {
            return None;
        }
        for _ in 0..60 {
            let middle = f64::midpoint(low, high);
            if falling(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        let q = f64::midpoint(low, high);
        // The cost's second derivative; the paper takes 2 over it as the variance.
        let curvature = [
            c1 - 2.0 * c3 + c6,
            12.0 * c2 - 6.0 * c5,
            -8.0 * c1 + 10.0 * c3 + 6.0 * c4 - 8.0 * c6,
            -12.0 * c2 + 16.0 * c5,
            3.0 * c1 - 6.0 * c4 + 3.0 * c6,
            -2.0 * c5,
        ]
        .iter()
        .rev()
        .fold(0.0, |sum, c| sum * q + c)
            * 2.0
            / (q * q + 1.0).powi(4);
        (curvature > 0.0).then(|| Estimate { value: q / self.scale, std_dev: (2.0 / curvature).sqrt() / self.scale })
    }
}
