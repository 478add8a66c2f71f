//! What a shunt and its converter make of a perfect reading: gain, offset, noise, steps.

use taffrail::quantity::Reading;

use crate::support::noise::Noise;

/// Noise of the voltage of the whole bank, 1 σ, V: half a step (assumed).
const VOLTAGE_NOISE_V: f64 = 0.005;
/// Noise of the current, 1 σ, A: one step (assumed).
const CURRENT_NOISE_A: f64 = 0.010;
/// Smallest step of both, V and A.
const STEP: f64 = 0.010;

/// A sensor with fixed errors; the same seed gives the same noise.
#[derive(Debug, Clone)]
pub struct Sensor {
    gain: f64,
    offset_a: f64,
    noise: Noise,
}

impl Sensor {
    /// The sensor of the accuracy table: +0.5 % and +50 mA, or with `sign` = -1 both the other way.
    pub const fn erring(sign: f64) -> Sensor {
        Sensor { gain: 0.005 * sign, offset_a: 0.05 * sign, noise: Noise(20_261_125) }
    }

    /// What it reports.
    pub fn read(&mut self, truth: Reading) -> Reading {
        let step = |value: f64| (value / STEP).round() * STEP;
        let current_a = truth.current_a * (1.0 + self.gain) + self.offset_a + CURRENT_NOISE_A * self.noise.normal();
        let voltage_v = truth.voltage_v + VOLTAGE_NOISE_V * self.noise.normal();
        Reading { current_a: step(current_a), voltage_v: step(voltage_v), ..truth }
    }
}
