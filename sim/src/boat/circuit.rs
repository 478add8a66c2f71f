//! One bank with all that hangs on it: its branches and its charging.

use super::branch::{Branch, Currents};
use super::charger::{Charger, Settings};
use crate::battery::{Bank, Monobloc, Request};
use serde::{Deserialize, Serialize};

/// A bank, its branches and its charging.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Circuit<M> {
    bank: Bank<M>,
    charger: Charger,
    currents: Currents,
    /// Loads are cut at this voltage, V.
    cut_v: f64,
}

impl<M: Monobloc> Circuit<M> {
    /// A bank with so many branches, all dead.
    pub fn new(bank: Bank<M>, settings: Settings, branches: usize, cut_v: f64) -> Self {
        Self { bank, charger: Charger::new(settings), currents: Currents::dead(branches), cut_v }
    }

    /// The bank.
    pub fn bank(&self) -> &Bank<M> {
        &self.bank
    }

    /// The bank, to tell it its age.
    pub fn bank_mut(&mut self) -> &mut Bank<M> {
        &mut self.bank
    }

    /// True currents of the branches in their order, A.
    pub fn currents_a(&self) -> &[f64] {
        &self.currents.0
    }

    /// Begins charging anew, as when a source is switched on.
    pub fn restart_charging(&mut self) {
        self.charger.restart();
    }

    /// Moves on by `dt_s` with what the branches want, A: loads negative, sources as much as they could give.
    pub fn step(&mut self, dt_s: f64, wanted_a: &[f64], ambient_c: f64) {
        self.currents.0.copy_from_slice(wanted_a);
        let temperature_c = self.bank.temperature_c();
        let (loads_a, sources_a) = self.currents.wanted();
        let request = Request {
            current_a: loads_a + sources_a,
            floor_a: loads_a,
            max_charge_v: self.charger.limit_v(temperature_c),
            min_discharge_v: self.cut_v,
        };
        let net_a = self.bank.step(dt_s, request, ambient_c);
        self.currents.settle(net_a);
        self.charger.step(dt_s, self.bank.voltage_v(), net_a, temperature_c);
    }

    /// True currents of the branches, which are named in their order.
    pub fn branches(&self, bank: &'static str, names: &'static [&'static str]) -> impl Iterator<Item = Branch> + '_ {
        names.iter().zip(&self.currents.0).map(move |(name, current_a)| Branch { bank, name, current_a: *current_a })
    }
}
