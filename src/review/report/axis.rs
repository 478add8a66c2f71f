//! Axes: where marks stand, and what they are called.

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

/// Values at which an axis is marked: whole steps of 1, 2 or 5 times a power of ten, four to eight of them.
pub fn value_marks(low: f64, high: f64) -> Vec<f64> {
    let span = high - low;
    if !(span.is_finite() && span > 0.0) {
        return vec![low];
    }
    let power = 10_f64.powf((span / 5.0).log10().floor());
    let step = [1.0, 2.0, 5.0, 10.0].map(|factor| factor * power).into_iter().find(|step| span / step <= 7.0);
    let step = step.unwrap_or(10.0 * power);
    let first = (low / step - 1e-9).ceil();
    (0..16).map(|n| (first + f64::from(n)) * step).take_while(|value| *value <= high + 1e-9 * span).collect()
}

/// A value of an axis as it is written beside the mark: no more decimals than its step needs.
pub fn value_words(value: f64, marks: &[f64]) -> String {
    let step = marks.windows(2).map(|pair| pair[1] - pair[0]).fold(f64::INFINITY, f64::min);
    let decimals = if step >= 1.0 || !step.is_finite() {
        0
    } else if step >= 0.1 {
        1
    } else if step >= 0.01 {
        2
    } else {
        3
    };
    // Adding nought turns -0 into 0.
    format!("{:.decimals$}", value + 0.0)
}

/// Steps of hours that a day is marked by.
const HOURS: [i64; 5] = [1, 2, 3, 6, 12];
/// Steps of days.
const DAYS: [i32; 4] = [1, 2, 7, 14];
/// Steps of months.
const MONTHS: [i32; 6] = [1, 3, 6, 12, 24, 60];
/// Most marks of time.
const MOST: i64 = 8;

/// Times at which an axis is marked, ms of UTC, with their words: hours of local days, days, months or years.
pub fn time_marks(from_ms: i64, to_ms: i64, zone: &TimeZone) -> Vec<(i64, String)> {
    let hours = (to_ms - from_ms) / 3_600_000;
    if let Some(step) = HOURS.into_iter().find(|step| hours / step <= MOST) {
        return hour_marks(from_ms, to_ms, step, zone);
    }
    let days = hours / 24;
    let (step, words): (jiff::Span, &str) = match DAYS.into_iter().find(|step| days / i64::from(*step) <= MOST) {
        Some(step) => (step.days(), "%-d %b"),
        None => {
            let step = MONTHS.into_iter().find(|step| days / (30 * i64::from(*step)) <= MOST).unwrap_or(120);
            (step.months(), if step >= 12 { "%Y" } else { "%b %Y" })
        }
    };
    let whole_years = words == "%Y";
    let Some(day) = date(from_ms, zone) else { return Vec::new() };
    let first = if words == "%-d %b" {
        day
    } else if whole_years {
        day.first_of_year()
    } else {
        day.first_of_month()
    };
    let marks = first.series(step).filter_map(|day| start(day, zone).map(|at| (at, day.strftime(words).to_string())));
    marks.skip_while(|(at, _)| *at < from_ms).take_while(|(at, _)| *at <= to_ms).take(16).collect()
}

fn hour_marks(from_ms: i64, to_ms: i64, step: i64, zone: &TimeZone) -> Vec<(i64, String)> {
    let Some(midnight) = date(from_ms, zone).and_then(|day| start(day, zone)) else { return Vec::new() };
    let marks = (0..).map(|n| midnight + n * step * 3_600_000);
    let words = |at: i64| {
        let local = Timestamp::from_millisecond(at).ok()?.to_zoned_datetime(zone.clone());
        let midnight = local.hour() == 0 && local.minute() == 0;
        Some(local.strftime(if midnight { "%-d %b" } else { "%H:%M" }).to_string())
    };
    let marks = marks.skip_while(|at| *at < from_ms).take_while(|at| *at <= to_ms).take(16);
    marks.filter_map(|at| words(at).map(|words| (at, words))).collect()
}

fn date(ms: i64, zone: &TimeZone) -> Option<Date> {
    Some(Timestamp::from_millisecond(ms).ok()?.to_zoned_datetime(zone.clone()).date())
}

fn start(day: Date, zone: &TimeZone) -> Option<i64> {
    Some(day.to_zoned_datetime(zone.clone()).ok()?.timestamp().as_millisecond())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_marked_by_round_steps() {
        assert_eq!(value_marks(0.0, 100.0), [0.0, 20.0, 40.0, 60.0, 80.0, 100.0]);
        let marks = value_marks(11.8, 13.1);
        assert!(marks.len() >= 4 && marks.len() <= 8, "{marks:?}");
        assert_eq!(value_words(marks[0], &marks), "11.8");
        assert_eq!(value_marks(5.0, 5.0), [5.0]);
    }

    #[test]
    fn times_are_marked_by_what_their_span_is_read_in() {
        let at = |text: &str| text.parse::<Timestamp>().expect("a time").as_millisecond();
        let words = |from, to| -> Vec<String> {
            time_marks(at(from), at(to), &TimeZone::UTC).into_iter().map(|(_, words)| words).collect()
        };
        assert_eq!(words("2026-05-01T05:30:00Z", "2026-05-01T09:00:00Z"), ["06:00", "07:00", "08:00", "09:00"]);
        assert_eq!(words("2026-05-01T20:00:00Z", "2026-05-02T14:00:00Z")[..2], ["21:00", "2 May"]);
        assert_eq!(words("2026-05-01T20:00:00Z", "2026-05-06T14:00:00Z")[0], "2 May");
        assert_eq!(words("2018-02-01T00:00:00Z", "2026-05-06T00:00:00Z")[0], "2019");
        assert_eq!(words("2026-02-10T00:00:00Z", "2026-08-06T00:00:00Z")[0], "Mar 2026");
    }
}
