//! Compares wall time to monotonic progress and tells adjustments from steps.

use super::{Trust, WallReading};
use crate::quantity::UtcMs;

/// Smallest difference between wall and monotonic progress that is noted as a new clock fix.
/// Half a second is far below what a chart shows and far above ordinary slewing between two looks.
const NOTE_MS: i64 = 500;

/// Smallest difference that is called a step: no slewing moves a clock by this much within a look.
const STEP_MS: i64 = 10_000;

/// What happened to the wall clock since the last clock fix.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockChange {
    /// The first reading of this run.
    First,
    /// It drifted or was slewed by this many milliseconds.
    Adjusted(i64),
    /// It was set, forward or back, by this many milliseconds.
    Stepped(i64),
    /// It is now believed more, or less, than before.
    TrustChanged,
}

/// Remembers the last clock fix and says when a new one is due.
#[derive(Debug, Clone, Default)]
pub struct StepWatch {
    last: Option<WallReading>,
}

impl StepWatch {
    /// Looks at a reading; `Some` means that it is to be stored as a clock fix.
    pub fn look(&mut self, reading: WallReading) -> Option<ClockChange> {
        let change = match self.last {
            None => Some(ClockChange::First),
            Some(last) => change_between(last, reading),
        };
        if change.is_some() {
            self.last = Some(reading);
        }
        change
    }
}

fn change_between(last: WallReading, now: WallReading) -> Option<ClockChange> {
    let slip_ms = (now.utc.0 - last.utc.0) - (now.mono - last.mono);
    if slip_ms.abs() >= STEP_MS {
        Some(ClockChange::Stepped(slip_ms))
    } else if now.trust != last.trust {
        Some(ClockChange::TrustChanged)
    } else if slip_ms.abs() >= NOTE_MS {
        Some(ClockChange::Adjusted(slip_ms))
    } else {
        None
    }
}

impl WallReading {
    /// The same reading, not believed if it lies before `stored`, the latest UTC that the store already holds:
    /// a clock behind its own past is wrong.
    #[must_use]
    pub fn doubted_before(self, stored: Option<UtcMs>) -> WallReading {
        match stored {
            Some(stored) if self.utc < stored && self.trust != Trust::Synchronised => {
                WallReading { trust: Trust::Untrusted, ..self }
            }
            _ => self,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::MonoMs;

    fn reading(mono: i64, utc: i64, trust: Trust) -> WallReading {
        WallReading { mono: MonoMs(mono), utc: UtcMs(utc), trust }
    }

    #[test]
    fn steady_progress_needs_one_fix_only() {
        let mut watch = StepWatch::default();
        assert_eq!(watch.look(reading(0, 1_000_000, Trust::Plausible)), Some(ClockChange::First));
        for second in 1..100 {
            assert_eq!(watch.look(reading(second * 1000, 1_000_000 + second * 1000 + 3, Trust::Plausible)), None);
        }
    }

    #[test]
    fn slow_drift_is_noted_each_half_second_and_a_set_clock_at_once() {
        let mut watch = StepWatch::default();
        watch.look(reading(0, 0, Trust::Plausible));
        assert_eq!(watch.look(reading(1000, 1499, Trust::Plausible)), None);
        assert_eq!(watch.look(reading(2000, 2500, Trust::Plausible)), Some(ClockChange::Adjusted(500)));
        assert_eq!(watch.look(reading(3000, -7_200_000, Trust::Plausible)), Some(ClockChange::Stepped(-7_203_500)));
    }

    #[test]
    fn gaining_a_time_source_is_a_fix_even_without_a_step() {
        let mut watch = StepWatch::default();
        watch.look(reading(0, 0, Trust::Plausible));
        assert_eq!(watch.look(reading(1000, 1000, Trust::Synchronised)), Some(ClockChange::TrustChanged));
    }

    #[test]
    fn a_clock_behind_the_stored_past_is_not_believed() {
        let late = reading(0, 500, Trust::Plausible).doubted_before(Some(UtcMs(1000)));
        assert_eq!(late.trust, Trust::Untrusted);
        assert_eq!(reading(0, 1500, Trust::Plausible).doubted_before(Some(UtcMs(1000))).trust, Trust::Plausible);
    }
}
