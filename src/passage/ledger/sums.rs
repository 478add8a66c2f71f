//! What one sensor counted over the stretches, and what all of them leave of the bank's charge.

use super::{Counts, Flow};
use crate::battery::SensorError;

/// One sensor over all stretches.
#[derive(Debug, Clone, Copy, Default)]
pub struct Counted {
    pub flow: Flow,
}

impl Counted {
    pub fn count(&mut self, counts: &Counts) {
        self.flow.covered_s += counts.covered_s;
        self.flow.charge_in_ah += counts.charge_in_ah;
        self.flow.charge_out_ah += counts.charge_out_ah;
    }

    /// Adds the energy of a stretch at the bank's mean voltage; none where that was not read.
    pub fn price(&mut self, counts: &Counts, voltage_v: Option<f64>) {
        let voltage_v = voltage_v.unwrap_or(0.0);
        self.flow.energy_in_wh += counts.charge_in_ah * voltage_v;
        self.flow.energy_out_wh += counts.charge_out_ah * voltage_v;
    }

    /// 1 σ of the net charge, Ah.
    pub fn std_dev_ah(&self, sensor: SensorError) -> f64 {
        let offset_ah = sensor.offset_a * self.flow.covered_s / 3600.0;
        (sensor.gain * self.flow.throughput_ah()).hypot(offset_ah)
    }
}

/// Stretches in which the bank and every measured branch were read.
#[derive(Debug, Clone)]
pub struct Compared {
    bank: Counted,
    branches: Vec<Counted>,
    /// The bank's charge less that of the branches; each stretch counts one way.
    pub rest: Flow,
    /// Charge that may have been missed where a branch was read a little longer or shorter than the bank, Ah.
    missed_ah: f64,
}

/// A branch whose cover differs from the bank's by no more than this part of the stretch …
const SAME_PART: f64 = 0.02;
/// … or by this, s, was read as the bank was: devices have rhythms of their own.
const SAME_S: f64 = 15.0;

impl Compared {
    pub fn new(branches: usize) -> Compared {
        Compared {
            bank: Counted::default(),
            branches: vec![Counted::default(); branches],
            rest: Flow::default(),
            missed_ah: 0.0,
        }
    }

    pub fn add(&mut self, bank: &Counts, branches: &[Counts], voltage_v: Option<f64>) {
        let apart_s = |branch: &Counts| (branch.covered_s - bank.covered_s).abs();
        let same_s = (SAME_PART * bank.covered_s).max(SAME_S.min(0.5 * bank.covered_s));
        if bank.covered_s <= 0.0 || branches.iter().any(|branch| apart_s(branch) > same_s) {
            return;
        }
        self.bank.count(bank);
        let mut rest_ah = bank.charge_in_ah - bank.charge_out_ah;
        for (sum, branch) in self.branches.iter_mut().zip(branches) {
            sum.count(branch);
            let net_ah = branch.charge_in_ah - branch.charge_out_ah;
            rest_ah -= net_ah;
            self.missed_ah += net_ah.abs() * apart_s(branch) / bank.covered_s;
        }
        let (in_ah, out_ah) = (rest_ah.max(0.0), (0.0 - rest_ah).max(0.0));
        let counts = Counts { covered_s: bank.covered_s, charge_in_ah: in_ah, charge_out_ah: out_ah };
        let mut rest = Counted { flow: self.rest };
        rest.count(&counts);
        rest.price(&counts, voltage_v);
        self.rest = rest.flow;
    }

    /// 1 σ of what is left, from all sensors, Ah.
    pub fn std_dev_ah(&self, bank: SensorError, branches: &[SensorError]) -> f64 {
        let own_ah = self.bank.std_dev_ah(bank).hypot(self.missed_ah);
        self.branches.iter().zip(branches).fold(own_ah, |sum, (branch, &sensor)| sum.hypot(branch.std_dev_ah(sensor)))
    }
}

/// Two flows as one; covered is what covers the better known of them.
pub fn joined(sum: Flow, flow: &Flow) -> Flow {
    Flow {
        covered_s: sum.covered_s.max(flow.covered_s),
        charge_in_ah: sum.charge_in_ah + flow.charge_in_ah,
        charge_out_ah: sum.charge_out_ah + flow.charge_out_ah,
        energy_in_wh: sum.energy_in_wh + flow.energy_in_wh,
        energy_out_wh: sum.energy_out_wh + flow.energy_out_wh,
    }
}
