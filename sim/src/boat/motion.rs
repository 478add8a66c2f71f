//! What the drive's power does to boat and motor: speed, turns of the shaft, warm windings.

use serde::{Deserialize, Serialize};

/// Full throttle, W: 0.8 C of the drive bank at its nominal voltage.
pub const FULL_W: f64 = 4600.0;
/// Speed through calm water and turns of the shaft a minute at full throttle. Power goes with the cube of both (the propeller law, the usual
/// first guess).
const FULL_KN: f64 = 5.8;
const FULL_RPM: f64 = 1450.0;
/// Speed at full throttle while berths are left and reached: the boat hardly gathers way.
const MANOEUVRING_KN: f64 = 1.6;
/// While the propeller is let turn under sail, its shaft makes so many turns for each knot (assumed).
const TURNING_RPM_PER_KN: f64 = 95.0;
/// The windings above the air at full throttle, K, and how long they take to get there, s (assumed).
const FULL_WARMER_K: f64 = 62.0;
const WARMING_S: f64 = 900.0;

/// How the boat moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// At a berth or at anchor, whatever the motor does.
    Still,
    /// Leaving or reaching a berth.
    Manoeuvring,
    /// Under power.
    Power,
    /// Under sail at this speed, kn.
    Sail(f64),
}

/// Speed over ground, kn, and turns of the shaft a minute, at a power of the motor, W; `turns` while it is driven by the propeller.
pub fn speed(way: Way, motor_w: f64, turns: bool) -> (f64, f64) {
    let part = (motor_w / FULL_W).max(0.0).cbrt();
    match way {
        Way::Still => (0.0, FULL_RPM * part),
        Way::Manoeuvring => (MANOEUVRING_KN * part, FULL_RPM * part),
        Way::Power => (FULL_KN * part, FULL_RPM * part),
        Way::Sail(speed_kn) => (speed_kn, if turns { TURNING_RPM_PER_KN * speed_kn } else { 0.0 }),
    }
}

/// The motor's windings.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Windings {
    warmer_k: f64,
}

impl Windings {
    /// Lets them warm or cool for `dt_s` at a power either way, W.
    pub fn step(&mut self, dt_s: f64, power_w: f64) {
        let goal_k = FULL_WARMER_K * power_w.abs() / FULL_W;
        self.warmer_k += (goal_k - self.warmer_k) * (1.0 - (-dt_s / WARMING_S).exp());
    }

    /// How much warmer than the air they are, K.
    pub fn warmer_k(&self) -> f64 {
        self.warmer_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn twice_the_speed_takes_eight_times_the_power() {
        let (slow, fast) = (speed(Way::Power, 400.0, false), speed(Way::Power, 3200.0, false));
        assert!((fast.0 / slow.0 - 2.0).abs() < 1e-9 && (fast.1 / slow.1 - 2.0).abs() < 1e-9);
        assert!(speed(Way::Still, 400.0, false).0.abs() < 1e-12 && speed(Way::Sail(5.0), 0.0, false).1.abs() < 1e-12);
    }

    #[test]
    fn windings_come_to_their_warmth_at_any_step() {
        let after = |dt_s: f64, steps: i32| {
            let mut windings = Windings::default();
            (0..steps).for_each(|_| windings.step(dt_s, FULL_W));
            windings.warmer_k()
        };
        assert!((after(1.0, 900) - after(90.0, 10)).abs() < 1e-9);
        // After one time constant, 1 - 1/e of the way.
        assert!((after(900.0, 1) / FULL_WARMER_K - 0.632_12).abs() < 1e-4);
    }
}
