//! Days of a boot.

use crate::quantity::{Moment, MonoMs};

/// Length of a day, ms.
const DAY_MS: i64 = 86_400_000;

/// Beginning of the day that holds a moment. Days count from the start of the boot.
pub(super) fn day_of(at: Moment) -> Moment {
    Moment { boot: at.boot, mono: MonoMs(at.mono.0.div_euclid(DAY_MS) * DAY_MS) }
}
