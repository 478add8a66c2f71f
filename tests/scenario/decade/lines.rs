//! The figures that a decade is judged by.

use sim::life::{RATED_AH, YEARS, year_begin_s};
use taffrail::battery::Chemistry;
use taffrail::health::fade::{Crossing, Fade, Point, Terms, fade};

use super::found::Found;
use super::score;
use super::truth::Truth;

const DAY_S: i64 = 86_400;
const DAYS_A_YEAR: f64 = 365.25;
/// The end of life is forecast so long ahead, s.
const AHEAD_S: i64 = 3 * 1461 * DAY_S / 4;

/// A figure, what must be met, and what would be good to meet. Larger is better if the aim is larger than the must.
#[derive(Debug, Clone)]
pub struct Line {
    /// What is measured.
    pub what: &'static str,
    /// What was measured; not a number where there was nothing to measure.
    pub measured: f64,
    /// Its unit.
    pub unit: &'static str,
    /// What must be met, and what would be good to meet.
    pub goal: Option<(f64, f64)>,
}

impl Line {
    fn goal(what: &'static str, measured: f64, unit: &'static str, must: f64, aim: f64) -> Line {
        Line { what, measured, unit, goal: Some((must, aim)) }
    }

    fn told(what: &'static str, measured: f64, unit: &'static str) -> Line {
        Line { what, measured, unit, goal: None }
    }

    /// Whether it is met; what could not be measured is not.
    pub fn is_met(&self) -> bool {
        self.goal.is_none_or(|(must, aim)| if aim > must { self.measured >= must } else { self.measured <= must })
    }
}

/// What was found, judged by what is true.
pub fn judge(truth: &Truth, found: &Found) -> Vec<Line> {
    let passages = score::passages(&truth.passages, &found.passages);
    let mut lines = vec![
        Line::told("passages there were", passages.known as f64, ""),
        Line::told("passages found", found.passages.len() as f64, ""),
        Line::goal("found, both ends within half an hour", 100.0 * passages.found, "%", 95.0, 99.0),
        Line::goal("found that match none", 100.0 * passages.wrong, "%", 2.0, 0.5),
        Line::told("known ones found, but not at both ends", passages.misplaced as f64, ""),
    ];
    lines.extend(capacity(truth, found));
    lines.extend(fading(truth, found));
    lines.extend(told(truth, found));
    lines
}

fn capacity(truth: &Truth, found: &Found) -> Vec<Line> {
    let Some(score) = score::capacity(&found.capacity, truth) else {
        return vec![Line::goal("days on which the capacity was known within 3 %", f64::NAN, "%", 95.0, 99.0)];
    };
    vec![
        Line::told("findings of capacity", found.capacity.len() as f64, ""),
        Line::told("days from the first finding on", score.days as f64, ""),
        Line::goal("capacity within 3 % of the truth, part of the days", 100.0 * score.within, "%", 95.0, 100.0),
        Line::goal("truth inside the band of the capacity, part of the days", 100.0 * score.in_band, "%", 95.0, 99.0),
        Line::told("greatest error of the capacity", 100.0 * score.greatest, "%"),
        Line::told("root mean square error of the capacity", 100.0 * score.rms, "%"),
        Line::told("mean half-width of its band", 100.0 * score.half_width, "%"),
    ]
}

/// What the findings up to a moment say of the fade; x in days since the start.
fn fade_at(found: &Found, t_s: i64) -> Fade {
    let known = found.findings.iter().filter(|one| one.believed && one.t_s <= t_s);
    let points: Vec<Point> = known
        .map(|one| Point {
            x: one.t_s as f64 / DAY_S as f64,
            ratio: one.for_trend_ah.value / RATED_AH,
            std_dev: one.for_trend_ah.std_dev / RATED_AH,
        })
        .collect();
    fade(&points, &Terms::of(Chemistry::LeadCarbon))
}

fn fading(truth: &Truth, found: &Found) -> Vec<Line> {
    let (five_s, end_s) = (year_begin_s(5), year_begin_s(YEARS));
    let part = |a_year: f64, true_a_year: f64| 100.0 * (-a_year / true_a_year - 1.0).abs();
    let trend = fade_at(found, five_s).trend.map_or(f64::NAN, |line| line.slope * DAYS_A_YEAR);
    let at_end = fade_at(found, end_s);
    let knee_day = at_end.knee.map_or(f64::NAN, |knee| knee.x);
    let last = found.capacity.iter().rfind(|known| known.t_s <= end_s);
    let at_present = last.and_then(|known| Some(known.capacity_ah.value * known.onward?.fade.value / RATED_AH));
    let slow = score::fade_per_year(truth, RATED_AH, 0, five_s);
    let fast = score::fade_per_year(truth, RATED_AH, truth.knee_s, end_s);
    let made_s = truth.end_of_life_s - AHEAD_S;
    let true_day = truth.end_of_life_s as f64 / DAY_S as f64;
    let (outside, width) = match fade_at(found, made_s).crossing {
        Ok(Crossing::Ahead(forecast) | Crossing::Passed(forecast)) => {
            let range = forecast.range_90;
            ((range.low - true_day).max(true_day - range.high).max(0.0), (range.high - range.low) / DAYS_A_YEAR)
        }
        Err(_) => (f64::NAN, f64::NAN),
    };
    vec![
        Line::told("fade in a year, first five years, truth", 100.0 * slow, "%"),
        Line::goal("  found, off by", part(trend, slow), "%", 20.0, 10.0),
        Line::told("fade in a year after the knee, truth", 100.0 * fast, "%"),
        Line::goal(
            "  told at the end of the ten years, off by",
            part(at_present.unwrap_or(f64::NAN), fast),
            "%",
            20.0,
            10.0,
        ),
        Line::told("knee, truth", truth.knee_s as f64 / DAY_S as f64, "days after the start"),
        Line::told("  told", knee_day, "days after the start"),
        Line::goal("end of life, out of the range told three years ahead", outside, "days", 0.0, 0.0),
        Line::told("  width of that range (90 %)", width, "years"),
    ]
}

fn told(truth: &Truth, found: &Found) -> Vec<Line> {
    let (number, behind_s) = truth.weak;
    let weak = score::telling(&found.told_of("weak-monobloc", &format!("monobloc {number}")), behind_s);
    let all_weak = found.told_of("weak-monobloc", "").len();
    let of_it = found.told_of("weak-monobloc", &format!("monobloc {number}")).len();
    let unaccounted = score::telling(&found.told_of("unaccounted-load", ""), truth.unaccounted.begin_s);
    let days = |telling: score::Telling| telling.after_days.unwrap_or(f64::NAN);
    vec![
        Line::goal("weak monobloc named after 5 % behind (0: before)", weak_days(weak), "days", 60.0, 30.0),
        Line::goal("another monobloc named", (all_weak - of_it) as f64, "times", 0.0, 0.0),
        Line::goal("unaccounted load told after it began", days(unaccounted), "days", 7.0, 3.0),
        Line::told("unaccounted load told before there was one", unaccounted.early as f64, "times"),
    ]
}

/// A monobloc that is named while it falls behind, before it has fallen by 5 %, is named in time.
fn weak_days(telling: score::Telling) -> f64 {
    if telling.early > 0 { 0.0 } else { telling.after_days.unwrap_or(f64::NAN) }
}
