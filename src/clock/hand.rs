//! What a person may say that the time is.

use crate::quantity::{MonoMs, UtcMs};

/// Wall time before this cannot be right: 2026-11-01T00:00:00Z, just before the first line of this program was written.
const NOT_BEFORE: UtcMs = UtcMs(1_793_491_200_000);
/// Nor can it be after this: 2076-11-01T00:00:00Z, fifty years later.
const NOT_AFTER: UtcMs = UtcMs(3_371_414_400_000);

/// Whether a time lies where this program may be running.
pub(super) fn can_be_right(utc: UtcMs) -> bool {
    (NOT_BEFORE..=NOT_AFTER).contains(&utc)
}

/// A time that somebody aboard states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HandTime {
    /// Monotonic time of the statement.
    pub mono: MonoMs,
    /// What time it is then.
    pub utc: UtcMs,
    /// It counts even if it lies before what earlier boots recorded: their clock was the wrong one.
    pub even_so: bool,
}

/// Why a stated time is not taken; nothing was changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum HandRefused {
    /// It cannot be right.
    #[error("time: expected one from 2026-11-01 to 2076-11-01 UTC; check the year and the zone")]
    Impossible,
    /// It lies before what the store holds of earlier boots.
    #[error(
        "the time given lies before {}, the latest that is recorded from before this computer started; check the date, \
         and insist only if that record is the one that is wrong",
        in_words(*recorded)
    )]
    BehindRecord {
        /// UTC of the latest believed sample of earlier boots.
        recorded: UtcMs,
    },
    /// A time source counts for more.
    #[error(
        "the computer's clock follows a time source since this start, which counts for more than a time set by hand; \
         nothing was changed"
    )]
    Synchronised,
}

impl HandTime {
    /// Checks the time against the program's own age and `recorded`, the latest believed UTC of earlier boots.
    ///
    /// # Errors
    /// [`HandRefused::Impossible`] or [`HandRefused::BehindRecord`].
    pub fn check(&self, recorded: Option<UtcMs>) -> Result<(), HandRefused> {
        match recorded {
            _ if !can_be_right(self.utc) => Err(HandRefused::Impossible),
            Some(recorded) if self.utc < recorded && !self.even_so => Err(HandRefused::BehindRecord { recorded }),
            _ => Ok(()),
        }
    }
}

fn in_words(utc: UtcMs) -> String {
    let text = jiff::Timestamp::from_millisecond(utc.0).map(|time| time.strftime("%Y-%m-%d %H:%M UTC").to_string());
    text.unwrap_or_else(|_| format!("{} ms of UTC", utc.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400_000;

    fn stated(utc: i64) -> HandTime {
        HandTime { mono: MonoMs(0), utc: UtcMs(utc), even_so: false }
    }

    #[test]
    fn a_time_before_the_program_or_fifty_years_after_it_is_refused() {
        let first: jiff::Timestamp = "2026-11-01T00:00:00Z".parse().expect("a time");
        let last: jiff::Timestamp = "2076-11-01T00:00:00Z".parse().expect("a time");
        assert_eq!((NOT_BEFORE.0, NOT_AFTER.0), (first.as_millisecond(), last.as_millisecond()));
        for (utc, can_be) in
            [(0, false), (NOT_BEFORE.0 - 1, false), (NOT_BEFORE.0, true), (NOT_AFTER.0, true), (NOT_AFTER.0 + 1, false)]
        {
            assert_eq!(stated(utc).check(None).is_ok(), can_be, "{utc}");
        }
        let even_so = HandTime { even_so: true, ..stated(0) };
        assert_eq!(even_so.check(None), Err(HandRefused::Impossible), "whoever insists");
    }

    #[test]
    fn a_time_behind_the_record_needs_to_be_insisted_on_and_the_refusal_says_when_and_how() {
        let recorded = UtcMs(NOT_BEFORE.0 + 30 * DAY);
        let refused = stated(NOT_BEFORE.0 + DAY).check(Some(recorded)).expect_err("a month behind");
        let text = refused.to_string();
        assert!(text.contains("2026-12-01 00:00 UTC") && text.contains("insist") && !text.contains("  "), "{text}");
        assert_eq!(HandTime { even_so: true, ..stated(NOT_BEFORE.0 + DAY) }.check(Some(recorded)), Ok(()));
        assert_eq!(stated(recorded.0).check(Some(recorded)), Ok(()));
    }
}
