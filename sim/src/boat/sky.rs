//! Sun, clouds and air at the boat's place.

use rand::Rng;
use rand_distr::{Distribution, StandardNormal};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// Marigold's cruising ground, degrees north and east.
const LATITUDE_DEG: f64 = 38.7;
const LONGITUDE_DEG: f64 = -9.1;
const DAY_S: f64 = 86_400.0;
/// The weather is worked out anew after this time, s.
const RENEWAL_S: f64 = 10.0;

/// A quantity that wanders about nought with standard deviation 1 and forgets itself over a time (first-order autoregressive).
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Wander {
    value: f64,
    memory_s: f64,
}

impl Wander {
    /// Starts anywhere it might be.
    pub fn new(memory_s: f64, rng: &mut impl Rng) -> Self {
        Self { value: StandardNormal.sample(rng), memory_s }
    }

    /// Moves on by `dt_s`; the spread stays 1 at any step.
    pub fn step(&mut self, dt_s: f64, rng: &mut impl Rng) -> f64 {
        let kept = (-dt_s / self.memory_s).exp();
        let fresh: f64 = StandardNormal.sample(rng);
        self.value = kept * self.value + (1.0 - kept * kept).sqrt() * fresh;
        self.value
    }
}

/// Local solar time as the hour of the day, 0..24: mean sun, without the equation of time (a quarter of an hour at most).
pub fn solar_hour(utc_s: f64) -> f64 {
    local_s(utc_s).rem_euclid(DAY_S) / 3600.0
}

/// Day number of local solar time since 1970.
pub fn solar_day(utc_s: f64) -> f64 {
    (local_s(utc_s) / DAY_S).floor()
}

fn local_s(utc_s: f64) -> f64 {
    utc_s + LONGITUDE_DEG / 360.0 * DAY_S
}

/// Sine of the sun's elevation; negative at night.
pub fn sine_of_elevation(utc_s: f64) -> f64 {
    // Day of the year to within a day; declination by Cooper 1969: 23.45° sin(360° (284 + n) / 365).
    let day_of_year = (utc_s / DAY_S).rem_euclid(365.2425);
    let declination = 23.45_f64.to_radians() * (TAU * (284.0 + day_of_year) / 365.0).sin();
    let hour_angle = TAU * (solar_hour(utc_s) - 12.0) / 24.0;
    let latitude = LATITUDE_DEG.to_radians();
    latitude.sin() * declination.sin() + latitude.cos() * declination.cos() * hour_angle.cos()
}

/// Irradiance on the level under a clear sky, W/m²: 1098 s exp(-0.057 / s) with s the sine of elevation (Haurwitz 1945, from memory).
fn clear_sky_w_per_m2(sine: f64) -> f64 {
    if sine <= 0.01 { 0.0 } else { 1098.0 * sine * (-0.057 / sine).exp() }
}

/// The weather.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Sky {
    fronts: Wander,
    clouds: Wander,
    warmth: Wander,
    since_renewal_s: f64,
    irradiance_w_per_m2: f64,
    air_c: f64,
    dark: bool,
}

impl Sky {
    /// Weather drawn at random.
    pub fn new(utc_s: f64, rng: &mut impl Rng) -> Self {
        let mut sky = Self {
            fronts: Wander::new(1.5 * DAY_S, rng),
            clouds: Wander::new(600.0, rng),
            warmth: Wander::new(2.0 * DAY_S, rng),
            since_renewal_s: RENEWAL_S,
            irradiance_w_per_m2: 0.0,
            air_c: 20.0,
            dark: false,
        };
        sky.step(0.0, utc_s, rng);
        sky
    }

    /// Moves on by `dt_s` to the moment `utc_s`.
    pub fn step(&mut self, dt_s: f64, utc_s: f64, rng: &mut impl Rng) {
        self.since_renewal_s += dt_s;
        if self.since_renewal_s < RENEWAL_S {
            return;
        }
        let passed_s = self.since_renewal_s;
        self.since_renewal_s = 0.0;
        let front = self.fronts.step(passed_s, rng);
        let cloud = self.clouds.step(passed_s, rng);
        let warmth = self.warmth.step(passed_s, rng);
        let sine = sine_of_elevation(utc_s);
        // Part of the light that comes through: fine on most days, a fifth under thick cover.
        let through = 0.2 + 0.8 / (1.0 + (-(1.2 + 1.6 * front + 0.7 * cloud)).exp());
        self.irradiance_w_per_m2 = clear_sky_w_per_m2(sine) * through;
        let daily = 4.0 * (TAU * (solar_hour(utc_s) - 15.0) / 24.0).cos();
        self.air_c = (20.0 + daily + 1.2 * warmth).clamp(14.0, 26.0);
        // Lamps are lit once the sun is 3° down.
        self.dark = sine < -0.052;
    }

    /// Irradiance on the level, W/m².
    pub fn irradiance_w_per_m2(&self) -> f64 {
        self.irradiance_w_per_m2
    }

    /// Air temperature, °C.
    pub fn air_c(&self) -> f64 {
        self.air_c
    }

    /// Whether lamps are needed.
    pub fn is_dark(&self) -> bool {
        self.dark
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 2026-06-21 and 2026-12-21, 00:00 UTC.
    const MIDSUMMER_S: f64 = 1_782_000_000.0;
    const MIDWINTER_S: f64 = 1_797_811_200.0;

    fn day_length_h(begin_s: f64) -> f64 {
        (0..1440).filter(|minute| sine_of_elevation(begin_s + 60.0 * f64::from(*minute)) > 0.0).count() as f64 / 60.0
    }

    #[test]
    fn days_are_long_in_summer_and_short_in_winter() {
        // Geometry: 2 acos(-tan 38.7° tan ±23.45°) / 15° is 14.7 h and 9.3 h.
        assert!((day_length_h(MIDSUMMER_S) - 14.7).abs() < 0.15);
        assert!((day_length_h(MIDWINTER_S) - 9.3).abs() < 0.15);
    }

    #[test]
    fn noon_stands_as_high_as_the_latitude_allows() {
        let highest = |begin_s: f64| {
            (0..1440).map(|m| sine_of_elevation(begin_s + 60.0 * f64::from(m))).fold(-1.0, f64::max).asin().to_degrees()
        };
        assert!((highest(MIDSUMMER_S) - (90.0 - 38.7 + 23.45)).abs() < 0.3);
        assert!((highest(MIDWINTER_S) - (90.0 - 38.7 - 23.45)).abs() < 0.3);
    }
}
