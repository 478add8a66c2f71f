//! How long to wait before a port is tried again.

use std::time::Duration;

/// First wait: short, because a plug that was nudged is back at once.
const FIRST: Duration = Duration::from_millis(250);

/// Longest wait: a person who plugs a device in looks for it after a few seconds.
const LONGEST: Duration = Duration::from_secs(5);

/// Waits that double from [`FIRST`] to [`LONGEST`].
#[derive(Debug)]
pub(super) struct BackOff(Duration);

impl BackOff {
    pub(super) fn new() -> BackOff {
        BackOff(FIRST)
    }

    /// The wait that is due now.
    pub(super) fn next(&mut self) -> Duration {
        let due = self.0;
        self.0 = (due * 2).min(LONGEST);
        due
    }

    /// Starts again with the shortest wait.
    pub(super) fn reset(&mut self) {
        self.0 = FIRST;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_five_seconds_and_a_reset_starts_again() {
        let mut back_off = BackOff::new();
        let waits: Vec<u128> = (0..7).map(|_| back_off.next().as_millis()).collect();
        assert_eq!(waits, [250, 500, 1000, 2000, 4000, 5000, 5000]);
        back_off.reset();
        assert_eq!(back_off.next().as_millis(), 250);
    }
}
