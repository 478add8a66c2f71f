//! What the boat's household and electronics draw from the bank, by times that are drawn each day.

use rand::{Rng, RngExt};

use super::plan::Place;
use super::{DAY_S, HOUR_S, whole};

/// Electronics that are always on while people are aboard, and a monitor that stays on in winter, W (assumed).
const ELECTRONICS_W: f64 = 14.0;
const MONITOR_W: f64 = 7.0;
/// Instruments, autopilot and the armed drive under way, W (assumed).
const UNDER_WAY_W: f64 = 105.0;
const FRIDGE_W: f64 = 42.0;
/// The fridge's box is kept between these, °C; it would cool so far below the air, K; and it follows with this time constant, s (assumed).
const BOX_C: (f64, f64) = (4.2, 5.8);
const COOLS_BY_K: f64 = 29.0;
const BOX_S: f64 = 32_000.0;

/// A heavy consumer behind the converter to the small loads.
#[derive(Clone, Copy, Debug)]
struct Use {
    begin_s: i64,
    end_s: i64,
    power_w: f64,
}

/// Powers drawn from the bank, W, all positive.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Powers {
    /// Electronics and fridge.
    pub standing_w: f64,
    /// The converter to the small loads.
    pub converter_w: f64,
}

/// The household.
#[derive(Clone, Debug)]
pub struct Household {
    compressor: bool,
    compressor_until_s: i64,
    day: i64,
    uses: [Use; 3],
}

impl Household {
    /// A household whose first day is still to be drawn.
    pub fn new() -> Self {
        let none = Use { begin_s: 0, end_s: 0, power_w: 0.0 };
        Self { compressor: false, compressor_until_s: 0, day: -1, uses: [none; 3] }
    }

    /// What is drawn from now on, and until when nothing switches, s since the start.
    pub fn at(&mut self, t_s: i64, place: Place, air_c: f64, rng: &mut impl Rng) -> (Powers, i64) {
        let day = t_s.div_euclid(DAY_S);
        if day != self.day {
            self.day = day;
            self.uses = draw_day(day * DAY_S, rng);
        }
        let midnight_s = (day + 1) * DAY_S;
        if !place.is_lived_in() {
            self.compressor_until_s = t_s;
            return (Powers { standing_w: MONITOR_W, converter_w: 0.0 }, midnight_s);
        }
        if t_s >= self.compressor_until_s {
            self.compressor = !self.compressor;
            self.compressor_until_s = t_s + whole(runs_s(self.compressor, air_c) * rng.random_range(0.9..1.1));
        }
        let mut powers = Powers { standing_w: ELECTRONICS_W, converter_w: 0.0 };
        if self.compressor {
            powers.standing_w += FRIDGE_W;
        }
        if place == Place::UnderWay {
            powers.standing_w += UNDER_WAY_W;
        }
        let mut until_s = midnight_s.min(self.compressor_until_s);
        for Use { begin_s, end_s, power_w } in self.uses {
            if (begin_s..end_s).contains(&t_s) {
                powers.converter_w += power_w;
                until_s = until_s.min(end_s);
            } else if begin_s > t_s {
                until_s = until_s.min(begin_s);
            }
        }
        (powers, until_s)
    }
}

/// Breakfast, dinner, the evening's lights.
fn draw_day(midnight_s: i64, rng: &mut impl Rng) -> [Use; 3] {
    let mut drawn = |hours: (f64, f64), minutes: (f64, f64), power_w: (f64, f64)| {
        let begin_s = midnight_s + whole(rng.random_range(hours.0..hours.1) * HOUR_S as f64);
        let end_s = begin_s + whole(rng.random_range(minutes.0..minutes.1) * 60.0);
        Use { begin_s, end_s, power_w: rng.random_range(power_w.0..power_w.1) }
    };
    [
        drawn((6.8, 9.0), (8.0, 16.0), (600.0, 800.0)),
        drawn((18.0, 20.0), (18.0, 35.0), (700.0, 900.0)),
        drawn((19.5, 20.5), (100.0, 200.0), (50.0, 90.0)),
    ]
}

/// How long the compressor runs or stands still: the box follows the air, or what the compressor would cool it to, exponentially.
fn runs_s(on: bool, air_c: f64) -> f64 {
    let warm = air_c.max(12.0);
    let (goal_c, from_c, to_c) = if on { (warm - COOLS_BY_K, BOX_C.1, BOX_C.0) } else { (warm, BOX_C.0, BOX_C.1) };
    BOX_S * ((from_c - goal_c) / (to_c - goal_c)).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_xoshiro::Xoshiro256PlusPlus;

    /// Energy of a day in Wh: electronics and fridge, converter.
    fn day_wh(place: Place, air_c: f64) -> (f64, f64) {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(2);
        let mut household = Household::new();
        let (mut t_s, mut standing, mut converter) = (0, 0.0, 0.0);
        while t_s < 20 * DAY_S {
            let (powers, until_s) = household.at(t_s, place, air_c, &mut rng);
            assert!(until_s > t_s && (until_s - t_s) <= DAY_S);
            let hours = (until_s - t_s) as f64 / HOUR_S as f64;
            standing += powers.standing_w * hours / 20.0;
            converter += powers.converter_w * hours / 20.0;
            t_s = until_s;
        }
        (standing, converter)
    }

    #[test]
    fn days_aboard_cost_more_than_days_laid_up_and_warm_days_more_than_cool_ones() {
        let (cool, warm, laid_up) =
            (day_wh(Place::Anchor, 14.0), day_wh(Place::Anchor, 24.0), day_wh(Place::LaidUp, 10.0));
        assert!((600.0..1200.0).contains(&warm.0) && warm.0 > cool.0 + 100.0, "{warm:?} {cool:?}");
        assert!((400.0..1000.0).contains(&warm.1), "{warm:?}");
        assert!((laid_up.0 - 24.0 * MONITOR_W).abs() < 1e-9 && laid_up.1 < 1e-12, "{laid_up:?}");
    }
}
