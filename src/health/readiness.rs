//! How ready a bank is for a capacity test: when it was full, what was taken out since, how long it has rested.

use serde::{Deserialize, Serialize};

use super::record::FixMark;
use super::test::Latest;
use super::watch::Aboard;
use crate::quantity::Minute;
use crate::reckoning::FixKind;

/// What is gentler is rest, A per Ah: the 50 h rate, as the rest fix has it (assumed).
const REST_RATE: f64 = 0.02;

/// Follows a bank.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Readiness {
    full: Option<SinceFull>,
    rest_s: f64,
    temperature_c: Option<f64>,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct SinceFull {
    seconds: f64,
    /// Net charge taken out, Ah.
    out_ah: f64,
}

impl Readiness {
    /// Takes a minute.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute) {
        let Some(unseen_s) = minute.unseen_s else {
            *self = Readiness { temperature_c: minute.temperature_c, ..Readiness::default() };
            return;
        };
        let seconds = unseen_s + minute.covered_s;
        if let Some(full) = &mut self.full {
            full.seconds += seconds;
            full.out_ah = (full.out_ah + minute.charge_out_ah - minute.charge_in_ah).max(0.0);
            // Nobody knows what was taken out meanwhile.
            if unseen_s > 3600.0 {
                self.full = None;
            }
        }
        let rests = minute.current_a.is_some_and(|a| a.mean.abs() <= REST_RATE * aboard.bank.rated_capacity_ah);
        self.rest_s = if !rests {
            0.0
        } else if unseen_s > 60.0 {
            minute.covered_s
        } else {
            self.rest_s + seconds
        };
        self.temperature_c = minute.temperature_c.or(self.temperature_c);
    }

    /// Takes a fix; it comes after the minute that holds it.
    pub fn fix(&mut self, fix: &FixMark) {
        if fix.kind == FixKind::Full {
            self.full = Some(SinceFull { seconds: 0.0, out_ah: 0.0 });
        }
    }

    /// What is known some seconds after the last minute.
    #[must_use]
    pub fn latest(&self, later_s: f64) -> Latest {
        Latest {
            full_ago_s: self.full.map(|full| full.seconds + later_s),
            taken_since_full_ah: self.full.map_or(0.0, |full| full.out_ah),
            rest_s: self.rest_s,
            temperature_c: self.temperature_c,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::{Bank, Chemistry};
    use crate::quantity::{Band, BandedSoc, BootNo, Extreme, Moment, MonoMs, Spread};

    fn minute(number: i64, current_a: f64, unseen_s: Option<f64>) -> Minute {
        let at = Moment { boot: BootNo(1), mono: MonoMs(number * 60_000) };
        let extreme = Extreme { value: current_a, at: at.mono };
        Minute {
            at,
            unseen_s,
            covered_s: 60.0,
            voltage_v: None,
            current_a: Some(Spread { mean: current_a, min: extreme, max: extreme }),
            power_w: None,
            temperature_c: Some(21.0),
            charge_in_ah: current_a.max(0.0) / 60.0,
            charge_out_ah: (0.0 - current_a).max(0.0) / 60.0,
            energy_in_wh: 0.0,
            energy_out_wh: 0.0,
            monobloc_v: Vec::new(),
            branch_a: Vec::new(),
            speed_kn: None,
            balancing: None,
            soc: None,
        }
    }

    #[test]
    fn a_bank_is_ready_when_it_was_full_and_has_rested_since() {
        let bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
        let aboard = Aboard { bank: &bank, branches: &[] };
        let mut readiness = Readiness::default();
        assert_eq!(readiness.latest(0.0).full_ago_s, None);
        readiness.minute(&aboard, &minute(0, 10.0, Some(0.0)));
        let soc = BandedSoc { soc: 1.0, band: Band { low: 0.99, high: 1.0 } };
        let at = Moment { boot: BootNo(1), mono: MonoMs(50_000) };
        readiness.fix(&FixMark { at, kind: FixKind::Full, before: None, after: soc });
        for number in 1..=90 {
            readiness.minute(&aboard, &minute(number, -0.6, Some(0.0)));
        }
        let latest = readiness.latest(30.0);
        assert!(latest.full_ago_s.is_some_and(|seconds| (seconds - 5430.0).abs() < 1e-9), "{latest:?}");
        assert!((latest.rest_s - 5400.0).abs() < 1e-9 && (latest.taken_since_full_ah - 0.9).abs() < 1e-9, "{latest:?}");
        assert_eq!(latest.temperature_c, Some(21.0));
        readiness.minute(&aboard, &minute(91, -30.0, Some(0.0)));
        assert!(readiness.latest(0.0).rest_s.abs() < 1e-9, "a load ends the rest");
        readiness.minute(&aboard, &minute(5000, -0.6, None));
        assert_eq!(readiness.latest(0.0).full_ago_s, None, "nobody knows what was taken meanwhile");
    }
}
