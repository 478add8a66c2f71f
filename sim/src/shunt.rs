//! The shunt between truth and wire: gain, offset, white noise and steps for each channel.

use rand::SeedableRng;
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;
use serde::{Deserialize, Serialize};

/// How one channel departs from the truth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ChannelError {
    /// Reported over true.
    pub gain: f64,
    /// Added, in the channel's unit.
    pub offset: f64,
    /// White noise, 1 sigma, in the channel's unit.
    pub noise: f64,
    /// Steps in one unit: 100 for a current in steps of 10 mA.
    pub steps_per_unit: f64,
    /// The lowest value that it can show.
    pub least: f64,
}

impl ChannelError {
    /// The usual departure for a channel by its unit: current +0.3 %, +30 mA, 20 mA of noise in steps of 10 mA; voltage 2 mV of noise
    /// in steps of 1 mV; temperature +0.2 °C, in steps of 0.1 °C; speed 0.03 kn of noise in steps of 0.01 kn, and turns 2 a minute in whole ones, both
    /// without a sign (all assumed).
    pub fn standard(channel: &str) -> Self {
        let error = |gain: f64, offset: f64, noise: f64, steps_per_unit: f64| Self {
            gain,
            offset,
            noise,
            steps_per_unit,
            least: f64::MIN,
        };
        match channel.rsplit_once('_').map(|(_, unit)| unit) {
            Some("a") => error(1.003, 0.030, 0.020, 100.0),
            Some("c") => error(1.0, 0.2, 0.03, 10.0),
            Some("kn") => Self { least: 0.0, ..error(1.0, 0.0, 0.03, 100.0) },
            Some("rpm") => Self { least: 0.0, ..error(1.0, 0.0, 2.0, 1.0) },
            _ => error(1.0, 0.0, 0.002, 1000.0),
        }
    }

    /// What is reported of a true value with `noise`, a draw from the standard normal distribution.
    pub fn reported(&self, truth: f64, noise: f64) -> f64 {
        let value = (truth * self.gain + self.offset + self.noise * noise).max(self.least);
        // Adding nought turns -0 into 0.
        (value * self.steps_per_unit).round() / self.steps_per_unit + 0.0
    }
}

/// A shunt with its channels.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Shunt {
    channels: Vec<ChannelError>,
    rng: Xoshiro256PlusPlus,
}

impl Shunt {
    /// A shunt with these errors.
    pub fn new(channels: Vec<ChannelError>, seed: u64) -> Self {
        Self { channels, rng: Xoshiro256PlusPlus::seed_from_u64(seed) }
    }

    /// A shunt with the usual error on each channel.
    pub fn standard(channels: &[&str], seed: u64) -> Self {
        Self::new(channels.iter().map(|channel| ChannelError::standard(channel)).collect(), seed)
    }

    /// Turns true values, in the order of the channels, into reported ones.
    pub fn report(&mut self, values: &mut [f64]) {
        for (value, channel) in values.iter_mut().zip(&self.channels) {
            *value = channel.reported(*value, StandardNormal.sample(&mut self.rng));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reported_current_has_the_stated_gain_offset_noise_and_steps() {
        let mut shunt = Shunt::standard(&["current_a"], 3);
        let mut many = |truth: f64| {
            let values: Vec<f64> = (0..20_000)
                .map(|_| {
                    let mut value = [truth];
                    shunt.report(&mut value);
                    value[0]
                })
                .collect();
            let mean = values.iter().sum::<f64>() / 20_000.0;
            let variance = values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / 20_000.0;
            assert!(values.iter().all(|value| (value * 100.0 - (value * 100.0).round()).abs() < 1e-9));
            (mean, variance.sqrt())
        };
        let (at_rest, noise) = many(0.0);
        let (at_hundred, _) = many(100.0);
        // Mean of 20 000: 0.02 A / 141; noise and step of 10 mA: sqrt(20² + 10²/12) = 20.2 mA.
        assert!((at_rest - 0.030).abs() < 6e-4, "{at_rest}");
        assert!((at_hundred - 100.33).abs() < 6e-4, "{at_hundred}");
        assert!((noise - 0.0202).abs() < 4e-4, "{noise}");
    }

    #[test]
    fn equal_seeds_report_equally() {
        let report = |seed| {
            let mut values = [52.0, -8.0, 19.0];
            Shunt::standard(&["voltage_v", "current_a", "temperature_c"], seed).report(&mut values);
            values.map(f64::to_bits)
        };
        assert_eq!(report(1), report(1));
        assert_ne!(report(1), report(2));
    }
}
