//! Resistance over time, within a second and within a minute of a step, for the bank and each monobloc.

use std::collections::BTreeMap;

use super::stored::Dated;
use super::thin::thinned;
use super::views::{ResistancePointView, ResistanceView};
use crate::health::fade::theil_sen;
use crate::health::{Reach, ResistanceDay};
use crate::quantity::UtcMs;
use crate::review::values::{BandView, rfc3339};

/// Average length of a year in the calendar, s.
pub(super) const YEAR_S: f64 = 31_556_952.0;

/// One line for each that was measured.
pub(super) fn resistance_views(days: &[Dated<ResistanceDay>]) -> Vec<ResistanceView> {
    let mut lines: BTreeMap<(Reach, Option<u32>), Vec<&Dated<ResistanceDay>>> = BTreeMap::new();
    for day in days {
        lines.entry((day.it.reach, day.it.monobloc)).or_default().push(day);
    }
    lines.into_iter().map(|((reach, monobloc), days)| resistance_view(reach, monobloc, &days)).collect()
}

/// Days and time that a trend needs before it is told (assumed): less shows the season and not the bank.
const TREND_DAYS: usize = 20;
const TREND_S: f64 = 180.0 * 86_400.0;

fn resistance_view(reach: Reach, monobloc: Option<u32>, days: &[&Dated<ResistanceDay>]) -> ResistanceView {
    let first = days.first().map_or(UtcMs(0), |day| day.to);
    let last = days.last().map_or(UtcMs(0), |day| day.to);
    let line: Vec<(f64, f64)> =
        days.iter().map(|day| (day.to.seconds_since(first) / YEAR_S, day.it.normal_ohm.value)).collect();
    let mut values: Vec<f64> = line.iter().map(|(_, ohm)| *ohm).collect();
    values.sort_by(f64::total_cmp);
    let middle = values.get(values.len() / 2).copied().filter(|ohm| *ohm > 0.0);
    let long_enough = days.len() >= TREND_DAYS && last.seconds_since(first) >= TREND_S;
    let trend = long_enough.then(|| theil_sen(&line, 0.95)).flatten();
    let per_year = trend.zip(middle).map(|(trend, ohm)| BandView {
        value: trend.slope / ohm,
        low: trend.slope_range.low / ohm,
        high: trend.slope_range.high / ohm,
    });
    let points = days.iter().map(|day| ResistancePointView {
        time: rfc3339(day.to),
        ohm: day.it.ohm.value,
        normal_ohm: day.it.normal_ohm.value,
        steps: day.it.steps,
    });
    let points = thinned(points.collect(), |point: &ResistancePointView| point.normal_ohm);
    ResistanceView { reach: reach_word(reach), monobloc, points, per_year, text: words(middle, per_year) }
}

/// The word of the API.
const fn reach_word(reach: Reach) -> &'static str {
    match reach {
        Reach::Second => "second",
        Reach::Minute => "minute",
    }
}

fn words(ohm: Option<f64>, per_year: Option<BandView>) -> String {
    let now = ohm.map_or_else(String::new, |ohm| format!("Usually {:.2} mΩ at 25 °C. ", 1000.0 * ohm));
    let Some(change) = per_year else {
        return now + "No trend yet: that takes days with load steps over half a year.";
    };
    let [value, low, high] = [change.value, change.low, change.high].map(|ratio| 100.0 * ratio);
    if low <= 0.0 && high >= 0.0 {
        return now + &format!("No change that is sure ({low:+.0} to {high:+.0} % a year).");
    }
    now + &format!("It changes by {value:+.0} % a year ({low:+.0} to {high:+.0}).")
}
