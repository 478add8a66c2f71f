//! What makes a passage of a bank's minutes: thresholds, derived from the bank unless they are set.

use crate::battery::{Bank, tidy};
use crate::reckoning::REST_RATE;

/// Thresholds of [`super::Finder`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rules {
    /// A drive that takes at least this is under way, A (> 0). Regeneration and shore power count from the same current on.
    pub drive_load_a: f64,
    /// Drive load of so many seconds altogether makes a passage, s.
    pub sustained_s: f64,
    /// For a bank of whose drive nothing is known: a discharge of at least this is no rest, A (> 0).
    pub discharge_a: f64,
    /// For such a bank: net discharge of so much makes a passage, part of the rated capacity.
    pub discharge_share: f64,
    /// Over ground at least this fast is under way, knots, where a channel has the speed.
    pub under_way_kn: f64,
    /// So long on shore power, full or at rest ends a passage, s; a shorter stop belongs to it.
    pub settled_s: f64,
}

/// Least load of a drive under way, A per Ah of rated capacity: a motor at dead slow draws several times this, one that
/// stands by with its electronics on a fraction (common practice, no source), and 25 σ of a sensor's usual offset.
const DRIVE_RATE: f64 = 0.01;
/// Leaving a berth takes longer than this, a try of the motor does not (assumed), s.
const SUSTAINED_S: f64 = 300.0;
/// Part of the rated capacity that makes a discharge worth reviewing: an evening's cooking takes less, a day under sail more
/// (assumed).
const DISCHARGE_SHARE: f64 = 0.10;
/// A boat at anchor swings and its position wanders by less than this; one that sails hardly ever does (common practice, no
/// source), knots.
const UNDER_WAY_KN: f64 = 1.5;
/// A stop for lunch at anchor lasts an hour or two; three hours are a stay (common practice, no source), s.
const SETTLED_S: f64 = 3.0 * 3600.0;

impl Rules {
    /// What a bank's description gives.
    #[must_use]
    pub fn of(bank: &Bank) -> Rules {
        Rules {
            drive_load_a: tidy(DRIVE_RATE * bank.rated_capacity_ah),
            sustained_s: SUSTAINED_S,
            discharge_a: tidy(REST_RATE * bank.rated_capacity_ah),
            discharge_share: DISCHARGE_SHARE,
            under_way_kn: UNDER_WAY_KN,
            settled_s: SETTLED_S,
        }
    }
}
