//! The drive motor: what it draws while motoring and what it gives back while the boat sails.

use super::motion::{FULL_W, Way, Windings, speed};
use super::plan::Order;
use super::sky::Wander;
use rand::{Rng, RngExt};
use serde::{Deserialize, Serialize};

/// Power taken by the motor's electronics while the drive is armed, W, and at all times, W (assumed).
const ARMED_W: f64 = 35.0;
const STANDING_W: f64 = 11.0;
/// Speed under sail, kn, with the propeller at rest; and with it turning, at this power, W, which goes with the cube of speed (assumed).
const SAILING_KN: f64 = 4.5;
const TURNING: (f64, f64) = (5.0, 150.0);

/// The motor and its propeller.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Propulsion {
    sea: Wander,
    wind: Wander,
    throttle: f64,
    throttle_left_s: f64,
    windings: Windings,
    order: Option<Order>,
    shaft: Shaft,
}

/// Powers of the drive, W, all positive.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct Shaft {
    pub motor_w: f64,
    pub regeneration_w: f64,
    pub standing_w: f64,
}

impl Propulsion {
    /// A motor at rest.
    pub fn new(rng: &mut impl Rng) -> Self {
        Self {
            sea: Wander::new(7.0, rng),
            wind: Wander::new(1500.0, rng),
            throttle: 0.0,
            throttle_left_s: 0.0,
            windings: Windings::default(),
            order: None,
            shaft: Shaft::default(),
        }
    }

    /// Moves on by `dt_s` under an order; `armed` while the boat is under way.
    pub fn step(&mut self, dt_s: f64, order: Option<Order>, armed: bool, rng: &mut impl Rng) -> Shaft {
        let mut shaft = Shaft { standing_w: STANDING_W + if armed { ARMED_W } else { 0.0 }, ..Shaft::default() };
        match order {
            Some(Order::Manoeuvre) => shaft.motor_w = FULL_W * self.manoeuvre(dt_s, rng),
            Some(Order::Motor(power_w)) => shaft.motor_w = power_w * (1.0 + 0.06 * self.sea.step(dt_s, rng)).max(0.3),
            Some(Order::Regenerate(power_w)) => {
                let wind = self.wind.step(dt_s, rng);
                let sea = self.sea.step(dt_s, rng);
                shaft.regeneration_w = power_w * (1.0 + 0.5 * wind + 0.15 * sea).max(0.0);
            }
            Some(Order::Generate(_)) | None => (),
        }
        self.order = order;
        self.shaft = shaft;
        shaft
    }

    /// Lets the windings warm or cool for `dt_s` at the powers of the step just taken.
    pub fn warm(&mut self, dt_s: f64) {
        self.windings.step(dt_s, self.shaft.motor_w + self.shaft.regeneration_w);
    }

    /// How much warmer than the air the windings are, K.
    pub fn warmer_k(&self) -> f64 {
        self.windings.warmer_k()
    }

    /// Speed over ground, kn, and turns of the shaft a minute.
    pub fn speed(&self, under_way: bool) -> (f64, f64) {
        let Shaft { motor_w, regeneration_w, .. } = self.shaft;
        let way = match self.order {
            _ if !under_way => Way::Still,
            Some(Order::Manoeuvre) => Way::Manoeuvring,
            Some(Order::Motor(_)) => Way::Power,
            _ if regeneration_w > 0.0 => Way::Sail(TURNING.0 * (regeneration_w / TURNING.1).cbrt()),
            _ => Way::Sail(SAILING_KN),
        };
        speed(way, motor_w, regeneration_w > 0.0)
    }

    /// Throttle while leaving or reaching a berth, 0..1: a new setting each 8 to 35 s, often none.
    fn manoeuvre(&mut self, dt_s: f64, rng: &mut impl Rng) -> f64 {
        self.throttle_left_s -= dt_s;
        if self.throttle_left_s <= 0.0 {
            self.throttle_left_s = rng.random_range(8.0..35.0);
            self.throttle = if rng.random_bool(0.35) { 0.0 } else { rng.random_range(0.15_f64..1.0).powf(1.5) };
        }
        self.throttle
    }
}
