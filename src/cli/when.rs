//! Times as people on the boat type and read them: local ones, in a named zone.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

use super::Failure;
use crate::quantity::UtcMs;

/// Local times of one zone.
#[derive(Debug, Clone)]
pub struct LocalTimes {
    zone: TimeZone,
}

impl LocalTimes {
    /// Those of `zone`.
    pub const fn of(zone: TimeZone) -> LocalTimes {
        LocalTimes { zone }
    }

    /// Name of the zone.
    pub fn zone_name(&self) -> &str {
        self.zone.iana_name().unwrap_or("the system's zone")
    }

    /// Reads RFC 3339 such as `2026-05-01T07:30:00Z`, or a local time such as `2026-05-01 08:30` or `2026-05-01`.
    ///
    /// # Errors
    /// Names the option and what was expected.
    pub fn read(&self, option: &str, text: &str) -> Result<UtcMs, Failure> {
        let local =
            || text.parse::<DateTime>().ok()?.to_zoned_datetime(self.zone.clone()).ok().map(|at| at.timestamp());
        text.parse::<Timestamp>().ok().or_else(local).map(|at| UtcMs(at.as_millisecond())).ok_or_else(|| {
            let expected = "a local time such as \"2026-05-01 08:30\", or 2026-05-01T07:30:00Z";
            Failure::input(format!("{option}: expected {expected}, got \"{text}\""))
        })
    }

    /// The local date and minute of a time in RFC 3339: `2026-05-01 08:30`.
    pub fn minute(&self, time: Option<&str>) -> String {
        self.shown(time, "%Y-%m-%d %H:%M")
    }

    /// The local date of a time in RFC 3339: `2026-05-01`.
    pub fn day(&self, time: Option<&str>) -> String {
        self.shown(time, "%Y-%m-%d")
    }

    fn shown(&self, time: Option<&str>, format: &str) -> String {
        let read = time.and_then(|time| time.parse::<Timestamp>().ok());
        read.map_or_else(
            || "not known".to_owned(),
            |at| at.to_zoned_datetime(self.zone.clone()).strftime(format).to_string(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lisbon() -> LocalTimes {
        LocalTimes::of(TimeZone::get("Europe/Lisbon").expect("known"))
    }

    #[test]
    fn a_time_is_read_as_the_clock_on_the_wall_shows_it_or_in_utc() {
        let half_past_seven = UtcMs(1_777_620_600_000);
        for text in ["2026-05-01T07:30:00Z", "2026-05-01 08:30", "2026-05-01T08:30", "2026-05-01T08:30:00"] {
            assert_eq!(lisbon().read("--from", text).ok(), Some(half_past_seven), "{text}");
        }
        assert_eq!(lisbon().read("--from", "2026-01-01").ok(), Some(UtcMs(1_767_225_600_000)), "winter time is UTC");
        let wrong = lisbon().read("--from", "yesterday").expect_err("no time");
        assert_eq!(wrong.code(), 2);
    }

    #[test]
    fn a_time_is_shown_as_the_clock_on_the_wall_showed_it() {
        assert_eq!(lisbon().minute(Some("2026-05-01T07:30:00Z")), "2026-05-01 08:30");
        assert_eq!(lisbon().day(Some("2026-05-31T23:30:00Z")), "2026-06-01");
        assert_eq!(lisbon().minute(None), "not known");
    }
}
