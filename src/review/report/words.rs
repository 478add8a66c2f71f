//! Figures and times as people read them.

use jiff::Timestamp;
use jiff::tz::TimeZone;

use crate::review::values::BandView;

/// What stands where nothing is known.
pub const NOTHING: &str = "–";

/// A clock time of the zone.
pub fn local(ms: i64, zone: &TimeZone) -> String {
    let at = Timestamp::from_millisecond(ms).ok().map(|at| at.to_zoned_datetime(zone.clone()));
    at.map_or_else(|| NOTHING.to_owned(), |at| at.strftime("%-d %b %Y %H:%M").to_string())
}

/// Milliseconds of an RFC 3339 time.
pub fn ms_of(time: Option<&String>) -> Option<i64> {
    time?.parse::<Timestamp>().ok().map(Timestamp::as_millisecond)
}

/// An RFC 3339 time as a clock time of the zone.
pub fn clock(time: Option<&String>, zone: &TimeZone) -> String {
    ms_of(time).map_or_else(|| NOTHING.to_owned(), |ms| local(ms, zone))
}

/// An RFC 3339 time as a day of the zone.
pub fn day(time: Option<&String>, zone: &TimeZone) -> String {
    let at = ms_of(time).and_then(|ms| Timestamp::from_millisecond(ms).ok());
    at.map_or_else(|| NOTHING.to_owned(), |at| at.to_zoned_datetime(zone.clone()).strftime("%-d %b %Y").to_string())
}

/// A number with so many decimals and its unit.
pub fn number(value: Option<f64>, decimals: usize, unit: &str) -> String {
    match value.filter(|value| value.is_finite()) {
        Some(value) if unit.is_empty() => format!("{value:.decimals$}"),
        Some(value) => format!("{value:.decimals$}\u{a0}{unit}"),
        None => NOTHING.to_owned(),
    }
}

/// A ratio in percent.
pub fn percent(ratio: Option<f64>, decimals: usize) -> String {
    number(ratio.map(|ratio| 100.0 * ratio), decimals, "%")
}

/// A value with its band.
pub fn band(value: Option<&BandView>, scale: f64, decimals: usize, unit: &str) -> String {
    value.map_or_else(
        || NOTHING.to_owned(),
        |BandView { value, low, high }| {
            format!(
                "{} ({:.decimals$} to {:.decimals$})",
                number(Some(scale * value), decimals, unit),
                scale * low,
                scale * high
            )
        },
    )
}
