//! What the two devices of the decade report: the main shunt with its monoblocs, and the branches.

use rand::{Rng, SeedableRng};
use rand_distr::{Distribution, StandardNormal};
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::shunt::ChannelError;

/// Channels of the main device.
pub const MAIN: [&str; 7] =
    ["voltage_v", "current_a", "temperature_c", "monobloc_1_v", "monobloc_2_v", "monobloc_3_v", "monobloc_4_v"];
/// Place of the current among [`MAIN`].
const CURRENT: usize = 1;

/// Channels of the branches' device: currents in the order of the circuits, then what is not a current.
pub const BRANCHES: [&str; 10] = [
    "motor_a",
    "regeneration_a",
    "generator_a",
    "shore_a",
    "dc_dc_a",
    "standing_a",
    "solar_a",
    "motor_temperature_c",
    "shaft_speed_rpm",
    "speed_over_ground_kn",
];
/// So many of [`BRANCHES`] are currents.
pub const METERED: usize = 7;

/// Draws in the table of noise, as many as 12 bits choose from.
const TABLE: usize = 4096;

/// Noise for hundreds of millions of values: a table of draws from the standard normal distribution, five of which one random number chooses.
#[derive(Clone, Debug)]
struct Noise {
    table: Vec<f32>,
    rng: Xoshiro256PlusPlus,
    bits: u64,
    left: u32,
}

impl Noise {
    fn new(seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        let drawn: Vec<f32> = (0..TABLE).map(|_| StandardNormal.sample(&mut rng)).collect();
        // A table of few draws has a mean and a spread of its own.
        let mean = drawn.iter().sum::<f32>() / TABLE as f32;
        let spread = (drawn.iter().map(|draw| (draw - mean).powi(2)).sum::<f32>() / TABLE as f32).sqrt();
        Self { table: drawn.into_iter().map(|draw| (draw - mean) / spread).collect(), rng, bits: 0, left: 0 }
    }

    fn draw(&mut self) -> f64 {
        if self.left == 0 {
            self.bits = self.rng.next_u64();
            self.left = 5;
        }
        self.left -= 1;
        let index = usize::from((self.bits & 0xfff) as u16);
        self.bits >>= 12;
        f64::from(self.table[index])
    }
}

/// The sensors of both devices.
#[derive(Clone, Debug)]
pub struct Sensors {
    main: [ChannelError; MAIN.len()],
    branches: [ChannelError; BRANCHES.len()],
    noise: Noise,
    /// What the main current's offset has changed by, A.
    pub offset_change_a: f64,
}

impl Sensors {
    /// Sensors with the usual errors; the gain (1 sigma 0.3 %) and the offset (20 mA) of each branch are its own.
    pub fn new(seed: u64) -> Self {
        let mut noise = Noise::new(seed);
        let branches = BRANCHES.map(|channel| {
            let usual = ChannelError::standard(channel);
            if channel.ends_with("_a") {
                // The draws are bound so that no sensor is absurd.
                let mut bound = |sigma: f64| sigma * noise.draw().clamp(-2.5, 2.5);
                ChannelError { gain: 1.0 + bound(0.003), offset: bound(0.020), ..usual }
            } else {
                usual
            }
        });
        Self { main: MAIN.map(ChannelError::standard), branches, noise, offset_change_a: 0.0 }
    }

    /// What the main device reports of true values.
    pub fn main(&mut self, mut truth: [f64; MAIN.len()]) -> [f64; MAIN.len()] {
        truth[CURRENT] += self.offset_change_a;
        for (value, channel) in truth.iter_mut().zip(&self.main) {
            *value = channel.reported(*value, self.noise.draw());
        }
        truth
    }

    /// What the branches' device reports of true values.
    pub fn branches(&mut self, mut truth: [f64; BRANCHES.len()]) -> [f64; BRANCHES.len()] {
        for (value, channel) in truth.iter_mut().zip(&self.branches) {
            *value = channel.reported(*value, self.noise.draw());
        }
        truth
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_has_the_mean_spread_and_tails_of_the_normal_distribution() {
        let mut noise = Noise::new(5);
        let draws: Vec<f64> = (0..400_000).map(|_| noise.draw()).collect();
        let part = |beyond: f64| draws.iter().filter(|draw| draw.abs() > beyond).count() as f64 / draws.len() as f64;
        let mean = draws.iter().sum::<f64>() / draws.len() as f64;
        let variance = draws.iter().map(|draw| draw * draw).sum::<f64>() / draws.len() as f64;
        assert!(mean.abs() < 0.01 && (variance - 1.0).abs() < 0.01, "{mean} {variance}");
        // Tables of the normal distribution: 31.7 % beyond 1 sigma, 4.55 % beyond 2, 0.27 % beyond 3; a table of 4096 draws has its own chance.
        assert!((part(1.0) - 0.317).abs() < 0.03 && (part(2.0) - 0.0455).abs() < 0.013, "{} {}", part(1.0), part(2.0));
        assert!((0.0002..0.008).contains(&part(3.0)), "{}", part(3.0));
    }

    #[test]
    fn change_of_the_offset_shows_in_the_main_current_and_nowhere_else() {
        let mean = |change_a: f64| {
            let mut sensors = Sensors::new(4);
            sensors.offset_change_a = change_a;
            let mut sum = [0.0; MAIN.len()];
            for _ in 0..20_000 {
                for (sum, value) in sum.iter_mut().zip(sensors.main([50.0, -5.0, 18.0, 12.5, 12.5, 12.5, 12.5])) {
                    *sum += value / 20_000.0;
                }
            }
            sum
        };
        let (before, after) = (mean(0.0), mean(0.12));
        for place in 0..MAIN.len() {
            let by = if place == CURRENT { 0.12 } else { 0.0 };
            assert!((after[place] - before[place] - by).abs() < 1e-3, "{place}: {before:?} {after:?}");
        }
    }
}
