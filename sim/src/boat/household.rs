//! Loads of the house bank: fridge, lights, instruments, autopilot, cooking, watermaker.

use super::plan::Place;
use super::sky::{Wander, solar_day, solar_hour};
use rand::{Rng, RngExt};
use serde::{Deserialize, Serialize};

/// Powers, W (assumed, usual for a twelve-metre boat).
const STANDING_W: f64 = 7.0;
const FRIDGE_W: f64 = 62.0;
const LAMPS_W: f64 = 38.0;
const ANCHOR_LIGHT_W: f64 = 3.0;
const NAVIGATION_LIGHTS_W: f64 = 14.0;
const INSTRUMENTS_W: f64 = 28.0;
const AUTOPILOT_W: f64 = 45.0;
const HOB_W: f64 = 1450.0;
const WATERMAKER_W: f64 = 420.0;
/// Part of inverter input that becomes alternating current.
const INVERTER_EFFICIENCY: f64 = 0.9;

/// Times of the day's heavy consumers, as hours of local solar time.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
struct Day {
    number: f64,
    breakfast: (f64, f64),
    dinner: (f64, f64),
    water: (f64, f64),
}

/// What the household lives in at a moment.
#[derive(Clone, Copy, Debug)]
pub struct Surroundings {
    pub utc_s: f64,
    pub place: Place,
    pub air_c: f64,
    pub dark: bool,
    /// State of charge of the house bank: the watermaker waits while it is low.
    pub soc: f64,
}

/// The household.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Household {
    box_c: f64,
    compressor: bool,
    steering: Wander,
    hob_phase_s: f64,
    day: Day,
}

impl Household {
    /// A household at rest with a cold fridge.
    pub fn new(rng: &mut impl Rng) -> Self {
        Self {
            box_c: 5.0,
            compressor: false,
            steering: Wander::new(12.0, rng),
            hob_phase_s: 0.0,
            day: Day { number: f64::NEG_INFINITY, ..Day::default() },
        }
    }

    /// Moves on by `dt_s` and returns the power drawn, W (positive).
    pub fn step(&mut self, dt_s: f64, around: Surroundings, rng: &mut impl Rng) -> f64 {
        let Surroundings { utc_s, place, air_c, dark, soc } = around;
        let number = solar_day(utc_s);
        if number > self.day.number {
            self.day = Self::draw_day(number, place, rng);
        }
        let hour = solar_hour(utc_s);
        let mut power_w = STANDING_W + self.fridge_w(dt_s, air_c) + self.cooking_w(dt_s, hour);
        if dark && (6.0..23.3).contains(&hour) {
            power_w += LAMPS_W;
        }
        match place {
            Place::Passage => {
                let effort = (1.0 + 0.5 * self.steering.step(dt_s, rng)).max(0.15);
                power_w += INSTRUMENTS_W + AUTOPILOT_W * effort;
                if dark {
                    power_w += NAVIGATION_LIGHTS_W;
                }
            }
            Place::Anchor if dark => power_w += ANCHOR_LIGHT_W,
            Place::Anchor | Place::Marina => (),
        }
        if within(hour, self.day.water) && soc > 0.5 && place != Place::Marina {
            power_w += WATERMAKER_W;
        }
        power_w
    }

    fn draw_day(number: f64, place: Place, rng: &mut impl Rng) -> Day {
        let mut meal = |from: f64, to: f64, longest: f64| {
            let begin = rng.random_range(from..to);
            (begin, begin + rng.random_range(0.15..longest))
        };
        let breakfast = meal(7.3, 9.0, 0.3);
        let dinner = meal(18.5, 20.5, 0.6);
        let begin = rng.random_range(10.5..14.0);
        // Rather while motoring or in the sun; every second or third day.
        let wanted = rng.random_bool(if place == Place::Marina { 0.0 } else { 0.4 });
        let water = if wanted { (begin, begin + rng.random_range(0.8..1.8)) } else { (0.0, 0.0) };
        Day { number, breakfast, dinner, water }
    }

    /// The compressor keeps the box between 3 and 7 °C; the box warms towards the air over about nine hours.
    fn fridge_w(&mut self, dt_s: f64, air_c: f64) -> f64 {
        let cooling_c_per_s = if self.compressor { 9.0e-4 } else { 0.0 };
        self.box_c += dt_s * ((air_c - self.box_c) / 32_000.0 - cooling_c_per_s);
        if self.box_c > 7.0 {
            self.compressor = true;
        } else if self.box_c < 3.0 {
            self.compressor = false;
        }
        if self.compressor { FRIDGE_W } else { 0.0 }
    }

    /// The hob holds its heat by switching: fully on at first, then two parts of three.
    fn cooking_w(&mut self, dt_s: f64, hour: f64) -> f64 {
        if !within(hour, self.day.breakfast) && !within(hour, self.day.dinner) {
            self.hob_phase_s = 0.0;
            return 0.0;
        }
        self.hob_phase_s += dt_s;
        let on = self.hob_phase_s < 240.0 || self.hob_phase_s.rem_euclid(24.0) < 14.0;
        if on { HOB_W / INVERTER_EFFICIENCY } else { 60.0 }
    }
}

fn within(hour: f64, (begin, end): (f64, f64)) -> bool {
    (begin..end).contains(&hour)
}
