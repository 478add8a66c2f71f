//! The figures that a decade is judged by.

use super::found::Found;
use super::score;
use super::truth::Truth;

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

fn told(truth: &Truth, found: &Found) -> Vec<Line> {
    let (number, behind_s) = truth.weak;
    let weak = score::telling(&found.told_of("weak-monobloc", &format!("monobloc {number}")), behind_s);
    let all_weak = found.told_of("weak-monobloc", "").len();
    let of_it = found.told_of("weak-monobloc", &format!("monobloc {number}")).len();
    let unaccounted = score::telling(&found.told_of("unaccounted-load", ""), truth.unaccounted.begin_s);
    let days = |telling: score::Telling| telling.after_days.unwrap_or(f64::NAN);
    vec![
        Line::goal("weak monobloc named after 5 % behind (0: before)", weak_days(weak), "days", 60.0, 30.0),
        Line::goal("another monobloc named", (all_weak - of_it) as f64, "times", 0.0, -1.0),
        Line::goal("unaccounted load told after it began", days(unaccounted), "days", 7.0, 3.0),
        Line::told("unaccounted load told before there was one", unaccounted.early as f64, "times"),
    ]
}

/// A monobloc that is named while it falls behind, before it has fallen by 5 %, is named in time.
fn weak_days(telling: score::Telling) -> f64 {
    if telling.early > 0 { 0.0 } else { telling.after_days.unwrap_or(f64::NAN) }
}
