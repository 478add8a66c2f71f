//! What a shunt and its converter make of a perfect reading: gain, offset, noise, steps.

use taffrail::quantity::Reading;

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

/// Uniform bits by the splitmix64 recurrence (Steele, Lea & Flood 2014), normal numbers by Box and Muller (1958).
#[derive(Debug, Clone)]
struct Noise(u64);

impl Noise {
    fn normal(&mut self) -> f64 {
        let (radius, turn) = (self.uniform(), self.uniform());
        (-2.0 * radius.ln()).sqrt() * (std::f64::consts::TAU * turn).cos()
    }

    /// Above 0, up to 1.
    fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut bits = self.0;
        bits = (bits ^ (bits >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        bits = (bits ^ (bits >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        bits ^= bits >> 31;
        (f64::from(u32::try_from(bits >> 32).expect("32 bits")) + 1.0) / (f64::from(u32::MAX) + 1.0)
    }
}
