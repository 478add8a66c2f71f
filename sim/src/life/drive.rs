//! The drive through one order: throttle settings that are held for a while, what the propeller gives back, speed and warmth.

use rand::{Rng, RngExt};
use rand_distr::{Distribution, StandardNormal};

use super::DAY_S;
use super::plan::Drive;
use crate::boat::motion::{FULL_W, Way, Windings, speed};

/// The drive.
#[derive(Clone, Debug)]
pub struct Propulsion {
    order: Drive,
    /// Power now: negative drives the boat, W.
    power_w: f64,
    until_s: i64,
    sailing_kn: f64,
    windings: Windings,
}

impl Propulsion {
    /// A drive at rest.
    pub fn new() -> Self {
        Self { order: Drive::Off, power_w: 0.0, until_s: 0, sailing_kn: 0.0, windings: Windings::default() }
    }

    /// Takes an order; what it does with it shows with the next [`Propulsion::at`].
    pub fn order(&mut self, t_s: i64, order: Drive, rng: &mut impl Rng) {
        self.order = order;
        self.until_s = t_s;
        self.sailing_kn = rng.random_range(3.8..6.2);
    }

    /// Power from now on (negative drives the boat, W), and until when it is held.
    pub fn at(&mut self, t_s: i64, rng: &mut impl Rng) -> (f64, i64) {
        if t_s >= self.until_s {
            let (power_w, held_s) = self.draw(rng);
            self.power_w = power_w;
            self.until_s = t_s + held_s;
        }
        (self.power_w, self.until_s)
    }

    fn draw(&self, rng: &mut impl Rng) -> (f64, i64) {
        let gauss: f64 = StandardNormal.sample(rng);
        match self.order {
            Drive::Off => (0.0, DAY_S),
            Drive::Motor(power_w) => (-power_w * (1.0 + 0.08 * gauss).max(0.5), rng.random_range(60..240)),
            Drive::Regenerate(power_w) => {
                let drawn_w = power_w * (1.0 + 0.4 * gauss).clamp(0.15, 2.0);
                // Wind changes bit by bit.
                let before_w = if self.power_w > 0.0 { self.power_w } else { drawn_w };
                (0.8 * before_w + 0.2 * drawn_w, rng.random_range(20..60))
            }
            Drive::Manoeuvre => {
                let part = if rng.random_bool(0.35) { 0.0 } else { rng.random_range(0.15_f64..1.0).powf(1.5) };
                (-FULL_W * part, rng.random_range(8..35))
            }
        }
    }

    /// Lets the windings warm or cool for `dt_s`.
    pub fn warm(&mut self, dt_s: f64) {
        self.windings.step(dt_s, self.power_w);
    }

    /// How much warmer than the air the windings are, K.
    pub fn warmer_k(&self) -> f64 {
        self.windings.warmer_k()
    }

    /// Speed over ground, kn, and turns of the shaft a minute.
    pub fn speed(&self, under_way: bool) -> (f64, f64) {
        let way = match self.order {
            _ if !under_way => Way::Still,
            Drive::Manoeuvre => Way::Manoeuvring,
            Drive::Motor(_) => Way::Power,
            Drive::Regenerate(_) | Drive::Off => Way::Sail(self.sailing_kn),
        };
        speed(way, -self.power_w, self.power_w > 0.0)
    }
}
