//! The ledger of a bank: what each branch put in or took out, what the bank kept of it, and what nothing accounts for.
//!
//! It is added up from stretches, such as hours, so that it does for any span. Charge is as the sensors counted it. The energy of a
//! branch is its charge at the bank's mean voltage of the stretch: exact where voltage or branch is steady, and otherwise wrong by no more
//! than the voltage strays from its mean within the stretch, a few percent in an hour of charge and discharge by turns.
//!
//! Errors of sensors do not average out: that of the offset grows with time, that of the gain with the charge that went
//! through, in both directions. Those of different sensors have nothing to do with each other.

mod sums;

use serde::Serialize;

use sums::{Compared, Counted};

use crate::battery::Role;
use crate::health::Aboard;
use crate::quantity::{BandedSoc, Estimate};

/// What a sensor counted in a stretch. Nothing reaches over gaps.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Counts {
    /// Seconds that samples cover.
    pub covered_s: f64,
    /// Charge put into the bank, Ah (≥ 0).
    pub charge_in_ah: f64,
    /// Charge taken out of it, Ah (≥ 0).
    pub charge_out_ah: f64,
}

/// A stretch of a span.
#[derive(Debug, Clone, Copy)]
pub struct Stretch<'a> {
    /// What the bank's own sensor counted.
    pub bank: Counts,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// Mean voltage of the bank, V.
    pub voltage_v: Option<f64>,
    /// What each branch with a channel of its own counted, in the order of the configuration; [`Counts::default`] for one that was not
    /// read.
    pub branches: &'a [Counts],
}

/// What is known of the bank at both ends of the span.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ends {
    /// State of charge at its beginning.
    pub begin: BandedSoc,
    /// State of charge at its end.
    pub end: BandedSoc,
    /// Capacity at the rated hours and 25 °C, Ah.
    pub capacity_ah: Estimate,
}

/// Charge and energy over the span.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct Flow {
    /// Seconds that samples cover.
    pub covered_s: f64,
    /// Charge put in, Ah.
    pub charge_in_ah: f64,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
}

impl Flow {
    /// What went in less what came out, Ah.
    #[must_use]
    pub fn net_ah(&self) -> f64 {
        self.charge_in_ah - self.charge_out_ah
    }

    /// What went through in both directions, Ah.
    #[must_use]
    pub fn throughput_ah(&self) -> f64 {
        self.charge_in_ah + self.charge_out_ah
    }
}

/// One line of the ledger.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BranchLine {
    /// Name of the branch.
    pub name: String,
    /// Its name for people.
    pub title: String,
    /// `source` or `load`.
    pub role: &'static str,
    /// True for what the others leave of the bank's current. In each stretch it goes one way.
    pub computed: bool,
    /// What went through it.
    pub flow: Flow,
    /// 1 σ of its net charge by the sensors, Ah.
    pub std_dev_ah: f64,
}

/// The ledger of a span.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Ledger {
    /// By the bank's own sensor.
    pub bank: Flow,
    /// 1 σ of the bank's net charge by its sensor, Ah.
    pub bank_std_dev_ah: f64,
    /// Seconds of the span that no samples of the bank cover; `None` where its length is not known.
    pub unseen_s: Option<f64>,
    /// By branch, in the order of the configuration.
    pub branches: Vec<BranchLine>,
    /// All sources together.
    pub sources: Flow,
    /// All loads together.
    pub loads: Flow,
    /// Charge that went in and is not held: charging losses and self-discharge, Ah. `None` where the state of charge at an end, or a
    /// part of the span, is not known.
    pub own_loss_ah: Option<Estimate>,
    /// Net charge of the bank that no branch accounts for, Ah: negative where something draws. `None` where a branch is computed,
    /// which by its nature accounts for all, or where there are no branches.
    pub unaccounted_ah: Option<Estimate>,
    /// Seconds in which the bank and every measured branch were read: what a computed branch and what is unaccounted for rest on.
    pub compared_s: f64,
    /// What is not known, in plain sentences.
    pub notes: Vec<String>,
}

/// Adds a ledger up.
#[derive(Debug, Clone)]
pub struct LedgerBuilder<'a> {
    aboard: Aboard<'a>,
    bank: Counted,
    measured: Vec<Counted>,
    compared: Compared,
    /// Seconds of samples without a voltage.
    unpriced_s: f64,
}

impl<'a> LedgerBuilder<'a> {
    /// Nothing yet.
    #[must_use]
    pub fn new(aboard: &Aboard<'a>) -> LedgerBuilder<'a> {
        let measured = aboard.branches.iter().filter(|branch| branch.channel.is_some()).count();
        LedgerBuilder {
            aboard: *aboard,
            bank: Counted::default(),
            measured: vec![Counted::default(); measured],
            compared: Compared::new(measured),
            unpriced_s: 0.0,
        }
    }

    /// Adds a stretch that was not added before.
    pub fn add(&mut self, stretch: &Stretch<'_>) {
        self.bank.flow.energy_in_wh += stretch.energy_in_wh;
        self.bank.flow.energy_out_wh += stretch.energy_out_wh;
        self.bank.count(&stretch.bank);
        if stretch.voltage_v.is_none() {
            self.unpriced_s += stretch.bank.covered_s;
        }
        let read = stretch.branches.iter().copied().chain(std::iter::repeat(Counts::default()));
        let branches: Vec<Counts> = read.take(self.measured.len()).collect();
        for (branch, counts) in self.measured.iter_mut().zip(&branches) {
            branch.count(counts);
            branch.price(counts, stretch.voltage_v);
        }
        self.compared.add(&stretch.bank, &branches, stretch.voltage_v);
    }

    /// The ledger. `span_s` is the length of the span by the clock, where it is known.
    #[must_use]
    pub fn finish(self, ends: Option<&Ends>, span_s: Option<f64>) -> Ledger {
        let unseen_s = span_s.map(|span_s| (span_s - self.bank.flow.covered_s).max(0.0));
        let sensor = self.aboard.bank.sensor;
        let bank_std_dev_ah = self.bank.std_dev_ah(sensor);
        let notes = self.notes(unseen_s);
        let whole = unseen_s.zip(span_s).is_some_and(|(unseen_s, span_s)| unseen_s <= WHOLE * span_s);
        let own_loss_ah = ends.filter(|_| whole && self.bank.flow.covered_s > 0.0);
        let own_loss_ah = own_loss_ah.map(|ends| own_loss(self.bank.flow.net_ah(), bank_std_dev_ah, ends));
        let measured = self.aboard.branches.iter().filter(|branch| branch.channel.is_some());
        let sensors: Vec<_> = measured.map(|branch| branch.sensor).collect();
        let residual_std_dev_ah = self.compared.std_dev_ah(sensor, &sensors);
        let mut counted = self.measured.iter();
        let branches: Vec<BranchLine> = self
            .aboard
            .branches
            .iter()
            .map(|branch| {
                let (flow, std_dev_ah) = match branch.channel.as_ref().and_then(|_| counted.next()) {
                    Some(counted) => (counted.flow, counted.std_dev_ah(branch.sensor)),
                    None => (self.compared.rest, residual_std_dev_ah),
                };
                BranchLine {
                    name: branch.name.clone(),
                    title: branch.title.clone(),
                    role: branch.role.word(),
                    computed: branch.channel.is_none(),
                    flow,
                    std_dev_ah,
                }
            })
            .collect();
        let total = |role: Role| {
            let lines = branches.iter().filter(|line| line.role == role.word());
            lines.fold(Flow::default(), |sum, line| sums::joined(sum, &line.flow))
        };
        let accounted = branches.is_empty() || branches.iter().any(|line| line.computed);
        let residual = Estimate { value: self.compared.rest.net_ah(), std_dev: residual_std_dev_ah };
        Ledger {
            bank: self.bank.flow,
            bank_std_dev_ah,
            unseen_s,
            sources: total(Role::Source),
            loads: total(Role::Load),
            branches,
            own_loss_ah,
            unaccounted_ah: (!accounted && self.compared.rest.covered_s > 0.0).then_some(residual),
            compared_s: self.compared.rest.covered_s,
            notes,
        }
    }

    fn notes(&self, unseen_s: Option<f64>) -> Vec<String> {
        let seen_s = self.bank.flow.covered_s;
        if seen_s <= 0.0 {
            return vec!["Nothing of the bank was read in this span.".to_owned()];
        }
        let mut notes = Vec::new();
        if let Some(unseen_s) = unseen_s.filter(|unseen_s| *unseen_s > WHOLE * (seen_s + unseen_s)) {
            notes.push(format!("The bank was not read for {}; what flowed then is in no sum.", hours(unseen_s)));
        }
        if self.unpriced_s > WHOLE * seen_s {
            notes
                .push(format!("The voltage was not read for {}; energy of then is in no sum.", hours(self.unpriced_s)));
        }
        let measured = self.aboard.branches.iter().filter(|branch| branch.channel.is_some());
        for (branch, counted) in measured.zip(&self.measured) {
            let missing_s = seen_s - counted.flow.covered_s;
            if missing_s > WHOLE * seen_s {
                notes.push(format!("{} was not read for {} of {}.", branch.title, hours(missing_s), hours(seen_s)));
            }
        }
        let compared_s = self.compared.rest.covered_s;
        if !self.aboard.branches.is_empty() && compared_s < (1.0 - WHOLE) * seen_s {
            notes.push(format!(
                "What the branches leave is known for the {} of {} in which all were read.",
                hours(compared_s),
                hours(seen_s)
            ));
        }
        notes
    }
}

/// A span of which no more than this part is missing counts as whole.
const WHOLE: f64 = 0.01;

/// What went in and is not held, with the errors of the sensor, of both ends and of the capacity.
fn own_loss(net_ah: f64, sensor_std_dev_ah: f64, ends: &Ends) -> Estimate {
    let rise = ends.end.soc - ends.begin.soc;
    let capacity_ah = ends.capacity_ah;
    let ends_ah = capacity_ah.value * ends.begin.std_dev().hypot(ends.end.std_dev());
    let std_dev = sensor_std_dev_ah.hypot(ends_ah).hypot(rise * capacity_ah.std_dev);
    Estimate { value: net_ah - rise * capacity_ah.value, std_dev }
}

fn hours(seconds: f64) -> String {
    if seconds < 5400.0 { format!("{:.0} min", seconds / 60.0) } else { format!("{:.1} h", seconds / 3600.0) }
}

#[cfg(test)]
mod tests;
