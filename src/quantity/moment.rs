//! Moments: monotonic time within a boot of the computer, and UTC.
//!
//! Samples are keyed by (boot, monotonic milliseconds). UTC is worked out when somebody reads, from clock fixes,
//! so a computer that learns the time an hour late loses nothing.

use std::ops::{Add, Sub};

use serde::{Deserialize, Serialize};

/// Number of a boot in the store: 1, 2, 3 … in the order in which they were first seen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct BootNo(pub u32);

/// Milliseconds since the boot began, suspend included (`CLOCK_BOOTTIME`).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct MonoMs(pub i64);

/// Milliseconds of UTC since 1970-01-01T00:00:00Z, leap seconds not counted (POSIX time).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct UtcMs(pub i64);

/// A point in time that no later correction of the clock can move.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
pub struct Moment {
    /// The boot it belongs to.
    pub boot: BootNo,
    /// Time since that boot began.
    pub mono: MonoMs,
}

impl MonoMs {
    /// Seconds from `earlier` to this moment; negative if this is the earlier one.
    #[must_use]
    pub fn seconds_since(self, earlier: MonoMs) -> f64 {
        ms_to_s(self.0 - earlier.0)
    }
}

impl UtcMs {
    /// Seconds from `earlier` to this moment; negative if this is the earlier one.
    #[must_use]
    pub fn seconds_since(self, earlier: UtcMs) -> f64 {
        ms_to_s(self.0 - earlier.0)
    }
}

#[expect(clippy::cast_precision_loss, reason = "exact below 2^53 ms, which is 285,000 years")]
fn ms_to_s(ms: i64) -> f64 {
    ms as f64 / 1000.0
}

impl Add<i64> for MonoMs {
    type Output = MonoMs;
    fn add(self, ms: i64) -> MonoMs {
        MonoMs(self.0 + ms)
    }
}

impl Sub for MonoMs {
    type Output = i64;
    fn sub(self, other: MonoMs) -> i64 {
        self.0 - other.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_is_later_minus_earlier() {
        assert!((MonoMs(2500).seconds_since(MonoMs(1000)) - 1.5).abs() < 1e-12);
        assert_eq!(MonoMs(10) + 5 - MonoMs(1), 14);
    }
}
