//! What is laid down for the decade before it is lived: how the bank fades, which monobloc falls behind, when the sensor's offset changes, and when a
//! load hangs on the bank that nobody knows of. All drawn from the seed, all known exactly for every day.

use rand::{Rng, RngExt};

use super::{DAY_S, YEAR_S};

/// Years that are lived.
pub const YEARS: i64 = 10;
/// Days of a year's season, counted from its 1 April: 21 April to 18 October.
pub const SEASON_DAYS: (i64, i64) = (20, 200);
/// How much faster a bank fades in its season, when it works, than over the whole year (assumed).
const SEASON_WEIGHT: f64 = 1.35;
/// After the knee it fades so many times as fast.
const KNEE_RATIO: f64 = 3.0;
/// What a summer that is never full takes besides, part of the first capacity (assumed).
const STARVED_FADE: f64 = 0.004;
/// Growth of the ohmic resistance for each part of capacity lost (assumed: corroded grids). It is a sixth of what a step of the load shows
/// in a new bank, so that a bank at four fifths shows about a quarter more.
const RESISTANCE_PER_FADE: f64 = 6.0;
/// A monobloc is called behind once its own capacity is this part below the mean of the others.
pub const BEHIND: f64 = 0.05;
/// Part of the rated capacity at which a bank is at the end of its life.
pub const END_OF_LIFE: f64 = 0.80;

/// A stretch of time, in seconds since the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stretch {
    /// First moment.
    pub begin_s: i64,
    /// Moment after the last.
    pub end_s: i64,
}

impl Stretch {
    /// Whether a moment lies in it.
    pub fn holds(&self, t_s: i64) -> bool {
        (self.begin_s..self.end_s).contains(&t_s)
    }
}

/// A change of what the current sensor reads at zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OffsetChange {
    /// When, s since the start.
    pub at_s: i64,
    /// By how much, A.
    pub by_a: f64,
}

/// A load that is on the bank and on no branch's sensor.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Unaccounted {
    /// From its beginning until it is found and removed.
    pub stretch: Stretch,
    /// Its current in milliamperes, drawn from the bank.
    pub draws_ma: u32,
}

/// The monobloc that falls behind.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weak {
    /// Its place in the string, from 0.
    pub index: usize,
    /// When it is just 5 % behind the mean of the others, s since the start.
    pub behind_s: i64,
    /// How much more it falls behind in a year.
    pub per_year: f64,
}

/// All that is laid down.
#[derive(Clone, Debug)]
pub struct Script {
    /// Part of the first capacity lost in a year before the knee.
    pub slow_per_year: f64,
    /// When fading turns fast, s since the start.
    pub knee_s: i64,
    /// The monobloc that falls behind.
    pub weak: Weak,
    /// The two changes of the sensor's offset.
    pub offsets: [OffsetChange; 2],
    /// The load that nobody knows of.
    pub unaccounted: Unaccounted,
    /// The summer without shore power.
    pub without_shore: Stretch,
}

impl Script {
    /// Draws it.
    pub fn draw(rng: &mut impl Rng) -> Self {
        let mut day_of = |year: i64, from: i64, to: i64| year_begin_s(year) + rng.random_range(from..to) * DAY_S;
        let offsets_s = [day_of(2, 60, 140), day_of(7, 60, 140)];
        let unaccounted_s = day_of(5, 70, 110) + 3600 * 11;
        let behind_s = day_of(6, 50, 100);
        Self {
            slow_per_year: rng.random_range(0.0125..0.0135),
            knee_s: year_begin_s(6) + rng.random_range(0..180) * DAY_S,
            weak: Weak { index: rng.random_range(0..4), behind_s, per_year: rng.random_range(0.022..0.028) },
            offsets: [
                OffsetChange { at_s: offsets_s[0], by_a: rng.random_range(0.10..0.14) },
                OffsetChange { at_s: offsets_s[1], by_a: -rng.random_range(0.13..0.17) },
            ],
            unaccounted: Unaccounted {
                stretch: Stretch { begin_s: unaccounted_s, end_s: unaccounted_s + rng.random_range(42..56) * DAY_S },
                draws_ma: 400,
            },
            without_shore: Stretch { begin_s: year_begin_s(3) + 61 * DAY_S, end_s: year_begin_s(3) + 153 * DAY_S },
        }
    }

    /// Part of the first capacity that is left.
    pub fn capacity_factor(&self, t_s: i64) -> f64 {
        let (before, after) = (used_years(t_s.min(self.knee_s)), used_years(t_s) - used_years(self.knee_s));
        let starved = self.without_shore;
        let part = (t_s - starved.begin_s) as f64 / (starved.end_s - starved.begin_s) as f64;
        1.0 - self.slow_per_year * (before + KNEE_RATIO * after.max(0.0)) - STARVED_FADE * part.clamp(0.0, 1.0)
    }

    /// Ohmic resistance relative to new.
    pub fn resistance_factor(&self, t_s: i64) -> f64 {
        1.0 + RESISTANCE_PER_FADE * (1.0 - self.capacity_factor(t_s))
    }

    /// How far the weak monobloc is behind the mean of the others, as a part of it; `natural` is what it is behind from the first day.
    pub fn behind(&self, t_s: i64, natural: f64) -> f64 {
        let years = (t_s - self.weak.behind_s) as f64 / YEAR_S;
        (BEHIND + self.weak.per_year * years).max(natural)
    }

    /// Ohmic resistance of the weak monobloc relative to its fellows.
    pub fn weak_resistance_factor(&self, t_s: i64, natural: f64) -> f64 {
        1.0 + RESISTANCE_PER_FADE * (self.behind(t_s, natural) - natural)
    }

    /// What the sensor's offset has changed by until then, A.
    pub fn offset_change_a(&self, t_s: i64) -> f64 {
        self.offsets.iter().filter(|change| t_s >= change.at_s).map(|change| change.by_a).sum()
    }
}

/// Beginning of a year of the decade, a midnight, s since the start.
pub fn year_begin_s(year: i64) -> i64 {
    // Years of 365.25 days, to whole days.
    (year * 1461 / 4) * DAY_S
}

/// Years of usual fading until then: more of it in the season than out of it.
fn used_years(t_s: i64) -> f64 {
    let year = (0..YEARS).rev().find(|year| t_s >= year_begin_s(*year)).unwrap_or(0);
    let length = (year_begin_s(year + 1) - year_begin_s(year)) as f64;
    let into = (t_s - year_begin_s(year)) as f64;
    let (from, to) = (SEASON_DAYS.0 * DAY_S, SEASON_DAYS.1 * DAY_S);
    let season = (to - from) as f64;
    let slack_weight = (length - SEASON_WEIGHT * season) / (length - season);
    let in_season = (into - from as f64).clamp(0.0, season);
    year as f64 + (SEASON_WEIGHT * in_season + slack_weight * (into - in_season)) / length
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::SeedableRng;
    use rand_xoshiro::Xoshiro256PlusPlus;

    fn scripts() -> impl Iterator<Item = Script> {
        (0..50).map(|seed| Script::draw(&mut Xoshiro256PlusPlus::seed_from_u64(seed)))
    }

    #[test]
    fn capacity_fades_three_times_as_fast_after_the_knee_and_ends_below_four_fifths() {
        for script in scripts() {
            let at = |year: i64| script.capacity_factor(year_begin_s(year));
            let (slow, fast) = (at(1) - at(2), at(8) - at(9));
            assert!((fast / slow - 3.0).abs() < 1e-9, "{script:?}");
            assert!((slow - script.slow_per_year).abs() < 1e-12);
            assert!((at(0) - 1.0).abs() < 1e-12 && at(10) < 0.79 && at(8) > 0.80, "{script:?}");
            let days = 0..YEARS * 365;
            assert!(days.into_iter().all(|day| {
                let fades = script.capacity_factor(day * DAY_S) - script.capacity_factor((day + 1) * DAY_S);
                (1e-5..3e-4).contains(&fades)
            }));
        }
    }

    #[test]
    fn weak_monobloc_is_just_five_percent_behind_at_its_date() {
        for script in scripts() {
            let at_s = script.weak.behind_s;
            assert!((script.behind(at_s, 0.01) - 0.05).abs() < 1e-12);
            assert!((script.behind(0, 0.01) - 0.01).abs() < 1e-12);
            assert!(script.behind(year_begin_s(10), 0.01) > 0.12);
        }
    }

    #[test]
    fn what_happens_once_happens_in_a_season_and_alone() {
        for script in scripts() {
            let season = |t_s: i64| {
                let year = (0..YEARS).rev().find(|year| t_s >= year_begin_s(*year)).expect("in the decade");
                (SEASON_DAYS.0..SEASON_DAYS.1).contains(&((t_s - year_begin_s(year)) / DAY_S))
            };
            let unaccounted = script.unaccounted.stretch;
            assert!(script.offsets.iter().all(|change| season(change.at_s)));
            assert!(season(unaccounted.begin_s) && season(unaccounted.end_s) && season(script.weak.behind_s));
            assert!(season(script.without_shore.begin_s) && season(script.without_shore.end_s));
        }
    }
}
