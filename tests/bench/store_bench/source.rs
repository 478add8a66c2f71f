//! What a made-up house bank at anchor reports, and what its store holds beside that.

use std::f64::consts::TAU;

use taffrail::quantity::Channel;
use taffrail::store::{SeriesKind, SeriesSpec};

/// The bank.
pub const BANK: &str = "house";
/// Its one device.
pub const DEVICE: &str = "shunt";

/// The device's samples.
pub fn device_spec() -> SeriesSpec {
    spec(DEVICE, SeriesKind::Device, &[Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE], 10_000)
}

/// The reckoned track, as the daemon stores it once a minute.
pub fn track_spec() -> SeriesSpec {
    spec("house-reckoning", SeriesKind::Reckoning, &["soc", "soc_low", "soc_high", "capacity_ah"], 180_000)
}

fn spec(name: &str, kind: SeriesKind, channels: &[&str], gap_ms: i64) -> SeriesSpec {
    let channels = channels.iter().filter_map(|name| Channel::try_new(name).ok()).collect();
    SeriesSpec { name: name.to_owned(), kind, bank: BANK.to_owned(), channels, gap_ms }
}

/// Voltage to 1 mV, current to 10 mA, temperature to 0.1 °C: a slow daily swing with noise of some steps, by a small
/// generator of its own (Knuth's multiplier, MMIX).
pub struct Source {
    state: u64,
    noise: i64,
    /// Sine of the day, which moves once a minute.
    day: f64,
}

impl Source {
    /// Noise whose standard deviation is about `noise` steps.
    pub fn new(noise: i64) -> Source {
        Source { state: 7, noise, day: 0.0 }
    }

    /// Values at a second.
    pub fn at(&mut self, second: i64) -> [Option<f64>; 3] {
        if second % 60 == 0 {
            self.day = (second as f64 / 86_400.0 * TAU).sin();
        }
        let millivolts = steps(52_000.0 + 1500.0 * self.day) + self.noise();
        let centiamperes = steps(1200.0 * self.day - 300.0) + self.noise();
        let tenths = steps(200.0 + 40.0 * self.day) + self.noise();
        [Some(millivolts as f64 / 1000.0), Some(centiamperes as f64 / 100.0), Some(tenths as f64 / 10.0)]
    }

    /// The track's point at a second: charge with its band, and capacity.
    pub fn track(&self) -> [Option<f64>; 4] {
        let soc = 0.7 + 0.25 * self.day;
        [soc, soc - 0.02, soc + 0.02, 118.0 + self.day].map(|value| Some((value * 1e5).round() / 1e5))
    }

    /// Sum of four uniform draws of width 1, whose standard deviation is 0.577, scaled.
    fn noise(&mut self) -> i64 {
        let mut sum = 0.0;
        for _ in 0..4 {
            self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (self.state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5;
        }
        steps(sum / 0.577 * self.noise as f64)
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a hundred thousand steps at most")]
fn steps(value: f64) -> i64 {
    value.round() as i64
}
