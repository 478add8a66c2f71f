//! Watches for the moment at which the full rule has held long enough.

use serde::{Deserialize, Serialize};

use crate::battery::FullRule;

/// How long the full rule has held so far, and whether this charge has been counted as full already.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct FullWatch {
    held_s: f64,
    full: bool,
}

/// What a reading meant for fullness.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fullness {
    /// Not full, or not for long enough.
    No,
    /// The rule has just held long enough: a full fix.
    Reached,
    /// Still held full by the charger since the last full fix.
    Kept,
}

impl FullWatch {
    /// Takes a reading `dt_s` after the one before. A lapse of any length starts the hold anew.
    pub fn look(&mut self, rule: &FullRule, dt_s: f64, voltage_v: f64, current_a: f64, temperature_c: f64) -> Fullness {
        if !rule.met_by(voltage_v, current_a, temperature_c) {
            *self = FullWatch::default();
            return Fullness::No;
        }
        self.held_s += dt_s;
        if self.full {
            Fullness::Kept
        } else if self.held_s >= rule.hold_s {
            self.full = true;
            Fullness::Reached
        } else {
            Fullness::No
        }
    }

    /// Whether the charger holds the bank full since the last full fix.
    #[must_use]
    pub const fn is_full(&self) -> bool {
        self.full
    }

    /// Forgets the hold: nobody was looking.
    pub fn interrupt(&mut self) {
        *self = FullWatch::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RULE: FullRule =
        FullRule { voltage_v: 14.1, compensation_v_per_k: 0.0, tail_current_a: 3.0, hold_s: 60.0, soc_std_dev: 0.01 };

    #[test]
    fn a_fix_comes_once_per_charge_and_only_after_an_unbroken_hold() {
        let mut watch = FullWatch::default();
        let mut fixes = 0;
        for second in 0..200 {
            let current = if second == 50 { 8.0 } else { 1.0 };
            fixes += usize::from(watch.look(&RULE, 1.0, 14.4, current, 25.0) == Fullness::Reached);
            assert!(second != 105 || fixes == 0, "the lapse at 50 s must start the hold anew");
        }
        assert_eq!(fixes, 1);
    }
}
