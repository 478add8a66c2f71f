//! Quantiles of a positive quantity, weighted by time, within a known relative error and a bounded space.
//!
//! Source: C. Masson, J. E. Rim, H. K. Lee, "DDSketch: a fast and fully-mergeable quantile sketch with relative-error
//! guarantees", PVLDB 12(12), 2019: buckets whose edges grow by a constant factor.

use serde::{Deserialize, Serialize};

/// A quantile is read to this part of itself.
pub const RESOLUTION: f64 = 0.01;
/// Values below this count as it; those above [`HIGHEST`] as that. So there are at most 1400 buckets.
const LOWEST: f64 = 1e-3;
const HIGHEST: f64 = 1e9;

/// Weights of values, by buckets of growing width.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Sketch {
    /// Number of the first bucket of `weights`.
    first: i32,
    weights: Vec<f64>,
}

impl Sketch {
    /// Adds a value that had a weight, such as seconds.
    pub fn add(&mut self, value: f64, weight: f64) {
        let bucket = bucket(value);
        if self.weights.is_empty() {
            self.first = bucket;
        }
        if bucket < self.first {
            let more = usize::try_from(self.first - bucket).unwrap_or_default();
            self.weights.splice(0..0, std::iter::repeat_n(0.0, more));
            self.first = bucket;
        }
        let place = usize::try_from(bucket - self.first).unwrap_or_default();
        if place >= self.weights.len() {
            self.weights.resize(place + 1, 0.0);
        }
        self.weights[place] += weight;
    }

    /// The value that this part of the weight does not exceed; `None` where nothing was added.
    #[must_use]
    pub fn quantile(&self, part: f64) -> Option<f64> {
        let wanted = part * self.weights.iter().sum::<f64>();
        let mut below = 0.0;
        let mut last = None;
        for (bucket, &weight) in (self.first..).zip(&self.weights) {
            if weight > 0.0 {
                last = Some(middle(bucket));
                below += weight;
                if below >= wanted {
                    break;
                }
            }
        }
        last
    }
}

/// Upper edge of a bucket over that of the one before it.
fn growth() -> f64 {
    (1.0 + RESOLUTION) / (1.0 - RESOLUTION)
}

#[expect(clippy::cast_possible_truncation, reason = "between -346 and 1037 for values inside the limits")]
fn bucket(value: f64) -> i32 {
    (value.clamp(LOWEST, HIGHEST).ln() / growth().ln()).ceil() as i32
}

/// The value that is no further than the resolution from any in the bucket.
fn middle(bucket: i32) -> f64 {
    2.0 * growth().powi(bucket) / (growth() + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quantile_is_that_of_the_sorted_values_within_the_resolution() {
        // The square of the rank is spread over four decades; quantiles of a plain list are known exactly.
        let values: Vec<f64> = (1..=1000).map(|rank| f64::from(rank * rank) / 100.0).collect();
        let mut sketch = Sketch::default();
        for &value in values.iter().rev() {
            sketch.add(value, 0.5);
        }
        for (part, rank) in [(0.025, 25), (0.5, 500), (0.95, 950), (1.0, 1000)] {
            let (read, exact) = (sketch.quantile(part).expect("values"), values[rank - 1]);
            assert!((read / exact - 1.0).abs() <= RESOLUTION, "{part}: {read} for {exact}");
        }
    }

    #[test]
    fn time_weighs() {
        let mut sketch = Sketch::default();
        sketch.add(100.0, 1.0);
        sketch.add(5.0, 99.0);
        assert!((sketch.quantile(0.95).expect("values") / 5.0 - 1.0).abs() <= RESOLUTION);
        assert!((sketch.quantile(0.995).expect("values") / 100.0 - 1.0).abs() <= RESOLUTION);
        assert_eq!(Sketch::default().quantile(0.5), None);
    }

    #[test]
    fn whatever_comes_it_stays_small() {
        let mut sketch = Sketch::default();
        for value in [0.0, -3.0, 1e300, f64::INFINITY, 1e-300] {
            sketch.add(value, 1.0);
        }
        assert!(sketch.weights.len() <= 1400, "{}", sketch.weights.len());
    }
}
