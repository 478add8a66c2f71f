//! Waiting for the moments that fix the charge: a cut-off under a load, and the end of a long rest.

use serde::{Deserialize, Serialize};

use crate::reckoning::terms::REST_RATE;

/// The cut-off must last this long and this many readings: a starter's or a motor's inrush is neither (assumed).
const CUT_OFF_S: f64 = 20.0;
const CUT_OFF_READINGS: u32 = 3;
/// Load below which a low voltage is a fault and no cut-off, A per Ah (assumed: the 100 h rate).
const CUT_OFF_RATE: f64 = 0.01;

/// Waits for the cut-off voltage under a load.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct CutOffWatch {
    seconds: f64,
    readings: u32,
    fixed: bool,
}

impl CutOffWatch {
    /// Whether this reading ends a discharge: once for each time the voltage stays at or below the cut-off.
    pub fn look(&mut self, dt_s: f64, at_cut_off: bool, rate: f64) -> bool {
        if !at_cut_off || rate > -CUT_OFF_RATE {
            *self = CutOffWatch::default();
            return false;
        }
        self.seconds += dt_s;
        self.readings += 1;
        let reached = !self.fixed && self.seconds >= CUT_OFF_S && self.readings >= CUT_OFF_READINGS;
        self.fixed |= reached;
        reached
    }

    /// Nobody watched.
    pub fn interrupt(&mut self) {
        *self = CutOffWatch::default();
    }
}

/// Waits for a rest that is long enough.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct RestWatch {
    seconds: f64,
    fixed: bool,
}

impl RestWatch {
    /// Whether the rest is long enough now: asked again until [`Self::used`].
    pub fn look(&mut self, dt_s: f64, rate: f64, enough_s: f64) -> bool {
        if rate.abs() > REST_RATE {
            *self = RestWatch::default();
            return false;
        }
        self.seconds += dt_s;
        !self.fixed && self.seconds >= enough_s
    }

    /// This rest has given its fix.
    pub fn used(&mut self) {
        self.fixed = true;
    }

    /// Nobody watched.
    pub fn interrupt(&mut self) {
        *self = RestWatch::default();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cut_off_counts_once_and_not_for_an_inrush() {
        let mut watch = CutOffWatch::default();
        assert!(!watch.look(10.0, true, -0.5) && !watch.look(10.0, false, -0.5));
        let times = (0..20).filter(|_| watch.look(10.0, true, -0.5)).count();
        assert_eq!(times, 1);
        assert!((0..20).all(|_| !watch.look(10.0, true, 0.0)), "no load: a fault, no cut-off");
    }

    #[test]
    fn a_rest_begins_anew_with_each_load() {
        let mut watch = RestWatch::default();
        assert!((0..59).all(|_| !watch.look(60.0, -0.001, 3600.0)));
        assert!(!watch.look(60.0, -0.3, 3600.0));
        assert!((0..59).all(|_| !watch.look(60.0, -0.001, 3600.0)));
        assert!(watch.look(60.0, -0.001, 3600.0));
        watch.used();
        assert!(!watch.look(60.0, -0.001, 3600.0));
    }
}
