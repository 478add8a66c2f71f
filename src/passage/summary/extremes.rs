//! The lowest and the highest value, each with its moment.

use crate::passage::record::At;
use crate::quantity::Moment;

/// Extremes of one quantity; of equal ones the first counts.
#[derive(Debug, Clone, Copy, Default)]
pub struct Extremes {
    pub min: Option<At>,
    pub max: Option<At>,
}

impl Extremes {
    /// Takes a value; one that is not finite is left out.
    pub fn take(&mut self, at: Moment, value: f64) {
        if !value.is_finite() {
            return;
        }
        if self.min.is_none_or(|min| value < min.value) {
            self.min = Some(At { value, at });
        }
        if self.max.is_none_or(|max| value > max.value) {
            self.max = Some(At { value, at });
        }
    }
}
