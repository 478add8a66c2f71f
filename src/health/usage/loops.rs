//! The watch over ways from full to full again.

use serde::{Deserialize, Serialize};

use super::drift::{Drift, Drifted, Way};
use crate::health::record::{Finding, FixMark, FullLoop, Span};
use crate::health::watch::{Aboard, Out, Told};
use crate::quantity::{Estimate, Minute, Moment};
use crate::reckoning::FixKind;

/// Discharge that ends a float, in parts of the tail current: as much as the full rule allows beside a charger.
const LET_GO: f64 = 0.1;
/// Ways with less taken out than this are float with a load beside it, in parts of the capacity (assumed).
const SHALLOWEST: f64 = 0.02;
/// Ways with less put in than this say nothing of the efficiency: their ends alone leave a tenth of it in doubt.
const SHALLOW: f64 = 0.15;
/// Part of a way that may be unseen; beyond it nothing is learned from it (assumed).
const UNSEEN: f64 = 0.05;
/// Unseen time after which nobody knows whether a full bank was let go, s (assumed).
const UNKNOWN_AFTER_S: f64 = 900.0;

/// Watches for ways between two full fixes.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Loops {
    full: bool,
    way: Option<Open>,
    /// Time since the last way ended, s.
    since_s: f64,
    drift: Drift,
}

/// A way that has begun.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Open {
    from: Moment,
    seconds: f64,
    unseen_s: f64,
    charge_in_ah: f64,
    charge_out_ah: f64,
    energy_in_wh: f64,
    energy_out_wh: f64,
    /// The deepest net charge since the beginning, Ah (≤ 0), and seconds in which charge went in since.
    deepest_ah: f64,
    charging_s: f64,
    lowest_soc: Option<f64>,
}

impl Loops {
    /// A watch that has seen nothing.
    #[must_use]
    pub fn new(aboard: &Aboard<'_>) -> Loops {
        Loops { full: false, way: None, since_s: 0.0, drift: Drift::new(aboard.bank) }
    }

    /// Takes a minute.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, _out: &mut Out) {
        self.since_s += 60.0 + minute.unseen_s.unwrap_or(0.0);
        if minute.unseen_s.is_none() {
            self.way = None;
            self.full = false;
        }
        if let Some(way) = &mut self.way {
            way.take(minute, minute.unseen_s.unwrap_or(0.0));
            return;
        }
        if minute.unseen_s.is_some_and(|unseen_s| unseen_s > UNKNOWN_AFTER_S) {
            self.full = false;
        }
        let least_a = -LET_GO * aboard.bank.full.tail_current_a;
        if self.full && minute.current_a.is_some_and(|current| current.mean < least_a) {
            self.full = false;
            let mut way = Open::new(minute.at);
            way.take(minute, 0.0);
            self.way = Some(way);
        }
    }

    /// Takes a fix that lies in the last minute.
    pub fn fix(&mut self, aboard: &Aboard<'_>, fix: &FixMark, out: &mut Out) {
        if fix.kind != FixKind::Full {
            return;
        }
        self.full = true;
        let Some(way) = self.way.take() else { return };
        if way.charge_out_ah < SHALLOWEST * aboard.bank.rated_capacity_ah {
            return;
        }
        if way.unseen_s <= UNSEEN * way.seconds {
            self.drift.learn(aboard.bank, &way.bare(aboard), self.since_s);
            self.since_s = 0.0;
            if let Some(drifted) = self.drift.tell(aboard.bank) {
                out.told.push(drifting(aboard, fix.at, drifted));
            }
        }
        out.findings.push(Finding::Loop(way.finish(aboard, fix.at, self.drift.offset_a())));
    }
}

impl Open {
    fn new(from: Moment) -> Open {
        Open {
            from,
            seconds: 0.0,
            unseen_s: 0.0,
            charge_in_ah: 0.0,
            charge_out_ah: 0.0,
            energy_in_wh: 0.0,
            energy_out_wh: 0.0,
            deepest_ah: 0.0,
            charging_s: 0.0,
            lowest_soc: None,
        }
    }

    fn take(&mut self, minute: &Minute, unseen_s: f64) {
        self.seconds += 60.0 + unseen_s;
        self.unseen_s += unseen_s + 60.0 - minute.covered_s;
        self.charge_in_ah += minute.charge_in_ah;
        self.charge_out_ah += minute.charge_out_ah;
        self.energy_in_wh += minute.energy_in_wh;
        self.energy_out_wh += minute.energy_out_wh;
        if minute.charge_in_ah > minute.charge_out_ah {
            self.charging_s += minute.covered_s;
        }
        let net_ah = self.charge_in_ah - self.charge_out_ah;
        if net_ah < self.deepest_ah {
            self.deepest_ah = net_ah;
            self.charging_s = 0.0;
        }
        if let Some(soc) = minute.soc {
            self.lowest_soc = Some(self.lowest_soc.map_or(soc.soc, |lowest| lowest.min(soc.soc)));
        }
    }

    /// 1 σ of the charge at both ends and of what nobody saw, Ah.
    fn ends_ah(&self, aboard: &Aboard<'_>) -> f64 {
        let bank = aboard.bank;
        let full_ah = std::f64::consts::SQRT_2 * bank.full.soc_std_dev * bank.rated_capacity_ah;
        full_ah.hypot(bank.standing_load_a * self.unseen_s / 3600.0)
    }

    fn bare(&self, aboard: &Aboard<'_>) -> Way {
        Way {
            in_ah: self.charge_in_ah,
            out_ah: self.charge_out_ah,
            seconds: self.seconds,
            lowest_soc: self.lowest_soc.unwrap_or(1.0 + self.deepest_ah / aboard.bank.rated_capacity_ah),
            ends_ah: self.ends_ah(aboard),
        }
    }

    fn finish(self, aboard: &Aboard<'_>, to: Moment, offset_a: Estimate) -> FullLoop {
        let bank = aboard.bank;
        let enough = self.charge_in_ah >= SHALLOW * bank.rated_capacity_ah && self.unseen_s <= UNSEEN * self.seconds;
        // The gain stands above and below the line and falls out; the offset goes with the whole time.
        let of_offset_ah = bank.sensor.offset_a * self.seconds / 3600.0;
        let efficiency = enough.then(|| Estimate {
            value: self.charge_out_ah / self.charge_in_ah,
            std_dev: self.ends_ah(aboard).hypot(of_offset_ah) / self.charge_in_ah,
        });
        FullLoop {
            span: Span { from: self.from, to },
            charge_in_ah: self.charge_in_ah,
            charge_out_ah: self.charge_out_ah,
            energy_in_wh: self.energy_in_wh,
            energy_out_wh: self.energy_out_wh,
            lowest_soc: self.lowest_soc,
            efficiency,
            charging_h: self.charging_s / 3600.0,
            unseen: self.unseen_s / self.seconds,
            offset_a: Some(offset_a),
        }
    }
}

fn drifting(aboard: &Aboard<'_>, at: Moment, drifted: Drifted) -> Told {
    let bank = aboard.bank;
    let (how, size) = match drifted {
        Drifted::Is(size) => ("what the current sensor reads at zero is", size),
        Drifted::MovedBy(size) => ("what the current sensor reads at zero has moved by", size),
    };
    let more = if size.value > 0.0 { "too much charge" } else { "too little charge" };
    Told {
        at,
        kind: "sensor-drift",
        priority: "caution",
        text: format!(
            "{}: between full charges the count does not close: {how} {:+.2} A (±{:.2} A), {more}, where {:.2} A is stated. \
             Set its zero while nothing flows, and look at its wiring.",
            bank.title,
            size.value,
            size.band().width() / 2.0,
            bank.sensor.offset_a
        ),
    }
}
