//! What was found in a decade against what is true of it.

use super::found::Known;
use super::truth::Truth;
use sim::life::Stretch;

const DAY_S: i64 = 86_400;
/// A passage counts as found if one was found that begins and ends within this of it, s.
pub const ENDS_WITHIN_S: i64 = 1800;
/// Capacity is to stay within this part of the truth.
pub const CAPACITY_WITHIN: f64 = 0.03;

/// How passages were found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Passages {
    /// Passages there were.
    pub known: usize,
    /// Part of them that was found, both ends in place.
    pub found: f64,
    /// Part of those found that are none: they match no known one at both ends.
    pub wrong: f64,
    /// Known ones in which something was found, but not at both ends.
    pub misplaced: usize,
}

/// Holds what was found against what a skipper would call passages.
pub fn passages(known: &[Stretch], found: &[Stretch]) -> Passages {
    let near = |a: i64, b: i64| (a - b).abs() <= ENDS_WITHIN_S;
    let same = |a: &Stretch, b: &Stretch| near(a.begin_s, b.begin_s) && near(a.end_s, b.end_s);
    let touches = |a: &Stretch, b: &Stretch| a.begin_s < b.end_s && b.begin_s < a.end_s;
    let met = known.iter().filter(|passage| found.iter().any(|other| same(passage, other))).count();
    let touched = known.iter().filter(|passage| found.iter().any(|other| touches(passage, other))).count();
    let wrong = found.iter().filter(|passage| !known.iter().any(|other| same(passage, other))).count();
    Passages {
        known: known.len(),
        found: met as f64 / known.len().max(1) as f64,
        wrong: wrong as f64 / found.len().max(1) as f64,
        misplaced: touched - met,
    }
}

/// How the capacity was known, day by day from the first finding on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Capacity {
    /// Days from the first finding on.
    pub days: usize,
    /// Greatest error, part of the truth.
    pub greatest: f64,
    /// Root of the mean square error, part of the truth.
    pub rms: f64,
    /// Part of the days with an error of at most 3 %.
    pub within: f64,
    /// Part of the days on which the truth lay in the band (95 %).
    pub in_band: f64,
    /// Mean half-width of the band, part of the truth.
    pub half_width: f64,
}

/// Holds the capacity as the findings up to each day tell it for that day against the truth; the earliest finding first.
pub fn capacity(findings: &[Known], truth: &Truth) -> Option<Capacity> {
    let first_day = findings.first()?.t_s / DAY_S + 1;
    let last_day = i64::try_from(truth.capacity_ah.len()).ok()?;
    let mut score = Capacity { days: 0, greatest: 0.0, rms: 0.0, within: 0.0, in_band: 0.0, half_width: 0.0 };
    let mut next = 0;
    for day in first_day..last_day {
        while findings.get(next).is_some_and(|known| known.t_s <= day * DAY_S) {
            next += 1;
        }
        let known = findings[next - 1].at(day * DAY_S);
        let (true_ah, band) = (truth.capacity_at(day * DAY_S), known.band());
        let error = (known.value / true_ah - 1.0).abs();
        score.days += 1;
        score.greatest = score.greatest.max(error);
        score.rms += error * error;
        score.within += f64::from(u8::from(error <= CAPACITY_WITHIN));
        score.in_band += f64::from(u8::from((band.low..=band.high).contains(&true_ah)));
        score.half_width += 0.5 * (band.high - band.low) / true_ah;
    }
    let days = score.days.max(1) as f64;
    score.rms = (score.rms / days).sqrt();
    score.within /= days;
    score.in_band /= days;
    score.half_width /= days;
    Some(score)
}

/// Mean loss of capacity in a year between two moments, part of the rating.
pub fn fade_per_year(truth: &Truth, rated_ah: f64, from_s: i64, to_s: i64) -> f64 {
    let years = (to_s - from_s) as f64 / (365.25 * DAY_S as f64);
    (truth.capacity_at(from_s) - truth.capacity_at(to_s)) / rated_ah / years
}

/// How something that happened at one moment was told.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Telling {
    /// Days from the event to the first telling after it; `None` if it was never told.
    pub after_days: Option<f64>,
    /// How often it was told before it was so.
    pub early: usize,
}

/// Holds the moments at which something was told against the moment when it came to be so.
pub fn telling(told_s: &[i64], happened_s: i64) -> Telling {
    let first = told_s.iter().filter(|t_s| **t_s >= happened_s).min();
    Telling {
        after_days: first.map(|t_s| (t_s - happened_s) as f64 / DAY_S as f64),
        early: told_s.iter().filter(|t_s| **t_s < happened_s).count(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use taffrail::quantity::Estimate;

    fn stretch(begin_s: i64, end_s: i64) -> Stretch {
        Stretch { begin_s, end_s }
    }

    #[test]
    fn a_passage_is_found_only_with_both_ends_in_place() {
        let known = [stretch(10_000, 30_000), stretch(100_000, 120_000), stretch(200_000, 220_000)];
        // One in place, one cut in two, one missed, and one where nothing was.
        let found =
            [stretch(11_000, 31_000), stretch(100_000, 108_000), stretch(109_000, 120_000), stretch(400_000, 410_000)];
        let score = passages(&known, &found);
        assert!((score.found - 1.0 / 3.0).abs() < 1e-12 && (score.wrong - 0.75).abs() < 1e-12, "{score:?}");
        assert_eq!(score.misplaced, 1);
        let all = passages(&known, &known);
        assert!((all.found - 1.0).abs() < 1e-12 && all.wrong.abs() < 1e-12);
    }

    fn fading() -> Truth {
        Truth {
            passages: Vec::new(),
            // A hundred days, 0.1 Ah less each day.
            capacity_ah: (0..100).map(|day| 100.0 - 0.1 * f64::from(day)).collect(),
            end_of_life_s: 0,
            weak: (1, 0),
            unaccounted: stretch(0, 0),
            knee_s: 0,
        }
    }

    #[test]
    fn capacity_is_judged_each_day_by_the_latest_finding_before_it() {
        let truth = fading();
        // Right on day 10, 4 % too high from day 50 on, with a band of 2 % and then of 5 %.
        let findings = [
            Known { t_s: 10 * DAY_S, capacity_ah: Estimate { value: 99.0, std_dev: 1.0 }, onward: None },
            Known { t_s: 50 * DAY_S, capacity_ah: Estimate { value: 1.04 * 95.0, std_dev: 2.5 }, onward: None },
        ];
        let score = capacity(&findings, &truth).expect("two findings");
        assert_eq!(score.days, 89);
        // By hand: days 11 to 38 lie within 3 %, and to 29 within the band; from day 50 the error is 4 % and grows, within 4.9 Ah until day 60.
        assert!((score.within - 28.0 / 89.0).abs() < 1e-9, "{score:?}");
        assert!((score.in_band - (19.0 + 11.0) / 89.0).abs() < 1e-9, "{score:?}");
        assert!((score.greatest - (98.8 / 90.1 - 1.0)).abs() < 1e-9, "{score:?}");
        assert!(capacity(&[], &truth).is_none());
        assert!((fade_per_year(&truth, 100.0, 0, 90 * DAY_S) - 0.36525).abs() < 1e-9);
    }

    #[test]
    fn what_is_told_before_it_is_so_counts_as_early() {
        let score = telling(&[5 * DAY_S, 12 * DAY_S, 20 * DAY_S], 10 * DAY_S);
        assert_eq!(score.early, 1);
        assert!(score.after_days.is_some_and(|days| (days - 2.0).abs() < 1e-12));
        assert_eq!(telling(&[], 0), Telling { after_days: None, early: 0 });
    }
}
