//! Estimates with their error, and the bands that screens and files show.

use serde::{Deserialize, Serialize};

/// Half-width of a two-sided 95 % interval of the normal distribution, in standard deviations.
/// Source: tables of the normal distribution (for instance NIST/SEMATECH e-Handbook 1.3.6.7.1), 1.959964.
pub const Z95: f64 = 1.959_964;

/// A value with its standard deviation (1 σ).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Estimate {
    /// The most likely value.
    pub value: f64,
    /// One standard deviation of the error, same unit, not negative.
    pub std_dev: f64,
}

impl Estimate {
    /// The interval claimed to hold the truth 95 % of the time.
    #[must_use]
    pub fn band(self) -> Band {
        Band { low: self.value - Z95 * self.std_dev, high: self.value + Z95 * self.std_dev }
    }
}

/// An interval claimed to hold the truth 95 % of the time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Lower edge.
    pub low: f64,
    /// Upper edge, not below `low`.
    pub high: f64,
}

impl Band {
    /// The part of the band inside `[floor, ceiling]`; an edge outside moves to the limit.
    #[must_use]
    pub fn clamp(self, floor: f64, ceiling: f64) -> Band {
        Band { low: self.low.clamp(floor, ceiling), high: self.high.clamp(floor, ceiling) }
    }

    /// Distance between the edges.
    #[must_use]
    pub fn width(self) -> f64 {
        self.high - self.low
    }
}

/// A state of charge with its band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct BandedSoc {
    /// State of charge, ratio.
    pub soc: f64,
    /// Its 95 % band.
    pub band: Band,
}

impl BandedSoc {
    /// The 1 σ, ratio, whose band reaches at least as far as this one on either side.
    #[must_use]
    pub fn std_dev(&self) -> f64 {
        (self.band.high - self.soc).max(self.soc - self.band.low) / Z95
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ninety_five_percent_is_1_96_standard_deviations_each_way() {
        let band = Estimate { value: 0.5, std_dev: 0.01 }.band();
        assert!((band.width() - 0.039_199_28).abs() < 1e-9);
        assert!(band.clamp(0.5, 1.0).low >= 0.5);
    }
}
