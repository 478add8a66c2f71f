//! Where the boat is and what its drive does through ten years: seasons of voyages, winters laid up, a capacity test each September, at the rated current.

mod passage;

use rand::RngExt;
use rand_xoshiro::Xoshiro256PlusPlus;

use super::script::{SEASON_DAYS, Script, Stretch, YEARS, year_begin_s};
use super::{DAY_S, HOUR_S, whole};

/// Day of each year, counted from its 1 April, by which the boat is back in a berth for its capacity test: mid September, warm
/// enough for a test. It is charged for two nights, and rests for some hours before it, s.
const TEST_DAY: i64 = 162;
const TEST_REST_S: i64 = 3 * HOUR_S;
/// Test and recharge take no longer, s.
const TEST_LASTS_S: i64 = 3 * DAY_S;

/// Where the boat is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// Ashore or in its winter berth: on shore power, nobody aboard.
    LaidUp,
    /// In a berth with shore power unplugged and nobody aboard, for a rest.
    Resting,
    /// In a berth under a capacity test, and afterwards recharging.
    Testing,
    /// In a marina on shore power, people aboard.
    Berth,
    /// At anchor, or moored without shore power.
    Anchor,
    /// Under way.
    UnderWay,
}

impl Place {
    /// Whether people live aboard.
    pub fn is_lived_in(self) -> bool {
        matches!(self, Self::Berth | Self::Anchor | Self::UnderWay)
    }
}

/// What the drive does.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Drive {
    /// Nothing.
    Off,
    /// Leaving or reaching a berth: throttle up and down.
    Manoeuvre,
    /// Motoring at a power, W.
    Motor(f64),
    /// Sailing with the propeller driving the motor; mean power, W.
    Regenerate(f64),
}

/// A stretch of the plan that lasts until the next begins.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Segment {
    /// First moment, s since the start.
    pub begin_s: i64,
    /// Where.
    pub place: Place,
    /// What the drive does.
    pub drive: Drive,
}

/// Ten years.
#[derive(Clone, Debug)]
pub struct Plan {
    /// What is done, in order, from the start on.
    pub segments: Vec<Segment>,
    /// What a skipper would call passages: from leaving under drive until the boat lies still for the night. A stop of up to two hours ends none.
    pub passages: Vec<Stretch>,
}

impl Plan {
    /// Draws it.
    pub fn draw(rng: Xoshiro256PlusPlus, script: &Script) -> Self {
        let mut pen = Pen { rng, plan: Plan { segments: Vec::new(), passages: Vec::new() }, script };
        for year in 0..YEARS {
            pen.lay_year(year);
        }
        pen.plan
    }

    /// When the capacity tests begin, s since the start.
    pub fn tests_s(&self) -> impl Iterator<Item = i64> {
        self.segments.iter().filter(|segment| segment.place == Place::Testing).map(|segment| segment.begin_s)
    }
}

/// Draws the plan.
struct Pen<'a> {
    rng: Xoshiro256PlusPlus,
    plan: Plan,
    script: &'a Script,
}

impl Pen<'_> {
    fn put(&mut self, begin_s: i64, place: Place, drive: Drive) {
        self.plan.segments.push(Segment { begin_s, place, drive });
    }

    fn seconds(&mut self, from_s: f64, to_s: f64) -> i64 {
        whole(self.rng.random_range(from_s..to_s))
    }

    fn hours(&mut self, from: f64, to: f64) -> i64 {
        self.seconds(from * HOUR_S as f64, to * HOUR_S as f64)
    }

    fn lay_year(&mut self, year: i64) {
        let begin_s = year_begin_s(year);
        self.put(begin_s, Place::LaidUp, Drive::Off);
        let launch_s = begin_s + SEASON_DAYS.0 * DAY_S + self.hours(7.0, 11.0);
        self.put(launch_s, Place::Berth, Drive::Off);
        let left_s = self.lay_season(launch_s, begin_s + TEST_DAY * DAY_S);
        self.put(left_s, Place::LaidUp, Drive::Off);
        let test_s = left_s - left_s.rem_euclid(DAY_S) + 2 * DAY_S + 8 * HOUR_S;
        self.put(test_s - TEST_REST_S, Place::Resting, Drive::Off);
        self.put(test_s, Place::Testing, Drive::Off);
        self.put(test_s + TEST_LASTS_S, Place::Berth, Drive::Off);
        let lay_up_s = self.lay_season(test_s + TEST_LASTS_S, begin_s + SEASON_DAYS.1 * DAY_S);
        self.put(lay_up_s, Place::LaidUp, Drive::Off);
        // The yard turns the motor for some minutes in the autumn, and that is no passage.
        let turn_s = begin_s + self.rng.random_range(210..240) * DAY_S + self.hours(9.0, 15.0);
        let ends_s = turn_s + self.seconds(150.0, 300.0);
        self.put(turn_s, Place::LaidUp, Drive::Motor(500.0));
        self.put(ends_s, Place::LaidUp, Drive::Off);
    }

    /// Voyages from a berth until the boat is back in one at the end of the season; gives the moment when it is laid up.
    fn lay_season(&mut self, launch_s: i64, end_s: i64) -> i64 {
        let nights = self.rng.random_range(1..3);
        let mut now_s = self.morning_after(launch_s, nights);
        let mut in_berth = true;
        loop {
            let last = now_s > end_s - 6 * DAY_S;
            let arrived_s = self.lay_passage(now_s, last);
            let shore = !self.script.without_shore.holds(arrived_s);
            let to_berth = last || (shore && self.rng.random_bool(if in_berth { 0.5 } else { 0.35 }));
            self.put(arrived_s, if to_berth { Place::Berth } else { Place::Anchor }, Drive::Off);
            if last {
                return self.morning_after(arrived_s, 1);
            }
            in_berth = to_berth;
            let nights = if self.rng.random_bool(0.15) { 5 } else { self.rng.random_range(1..4) };
            now_s = self.morning_after(arrived_s, nights);
        }
    }

    /// A morning so many nights later, eight hours away at the least.
    fn morning_after(&mut self, t_s: i64, nights: i64) -> i64 {
        let midnight_s = t_s - t_s.rem_euclid(DAY_S);
        let morning_s = midnight_s + nights * DAY_S + self.hours(6.5, 10.0);
        if morning_s - t_s < 8 * HOUR_S { morning_s + DAY_S } else { morning_s }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;

    fn plans() -> impl Iterator<Item = (Script, Plan)> {
        (0..20).map(|seed| {
            let script = Script::draw(&mut Xoshiro256PlusPlus::seed_from_u64(seed));
            let plan = Plan::draw(Xoshiro256PlusPlus::seed_from_u64(seed + 1000), &script);
            (script, plan)
        })
    }

    #[test]
    fn ten_years_have_hundreds_of_passages_with_a_night_between_any_two() {
        for (_, plan) in plans() {
            assert!((500..1000).contains(&plan.passages.len()), "{}", plan.passages.len());
            assert!(plan.passages.windows(2).all(|pair| pair[1].begin_s - pair[0].end_s >= 8 * HOUR_S));
            assert!(plan.segments.windows(2).all(|pair| pair[0].begin_s < pair[1].begin_s));
            let last = plan.segments.last().expect("ten years");
            assert!(last.begin_s < year_begin_s(YEARS) && last.place == Place::LaidUp);
        }
    }

    #[test]
    fn within_a_passage_the_drive_never_rests_for_more_than_two_hours() {
        for (_, plan) in plans() {
            for passage in &plan.passages {
                let mut still_since_s = None;
                let mut longest_s = 0;
                for segment in plan.segments.iter().filter(|segment| passage.holds(segment.begin_s)) {
                    if segment.drive == Drive::Off {
                        still_since_s.get_or_insert(segment.begin_s);
                    } else if let Some(since_s) = still_since_s.take() {
                        longest_s = longest_s.max(segment.begin_s - since_s);
                    }
                }
                assert!(longest_s <= 2 * HOUR_S && still_since_s.is_none(), "{passage:?}: {longest_s}");
            }
        }
    }

    #[test]
    fn no_shore_power_is_had_in_the_summer_without_and_ten_tests_are_made() {
        for (script, plan) in plans() {
            let segments = plan.segments.windows(2).map(|pair| (pair[0].place, pair[0].begin_s, pair[1].begin_s));
            let starved = script.without_shore;
            for (place, begin_s, end_s) in segments {
                let within = begin_s >= starved.begin_s && end_s <= starved.end_s;
                assert!(!(within && place == Place::Berth));
            }
            assert_eq!(plan.tests_s().count(), 10);
        }
    }
}
