//! What went through a bank in any span, branch by branch.
//!
//! Charges are exact sums of the store; what follows from them is [`crate::passage::Ledger`]'s.

use serde::Serialize;
use utoipa::ToSchema;

use super::POWER;
use super::notes::{clock_note, overlap_note};
use super::series::series_of;
use super::stretches::{self, soc_at};
use super::values::{BandView, rfc3339};
use crate::battery::BranchChannel;
use crate::health::{Aboard, Finding};
use crate::passage::{BranchLine, Counts, Ends, Flow, Ledger, LedgerBuilder, Stretch};
use crate::quantity::{Channel, Estimate, UtcMs, Z95};
use crate::reckoning::CAPACITY_STD_DEV_RATIO;
use crate::store::{Reader, Result, SeriesInfo, SeriesKind, Summary};

/// Most stretches that a span is cut into. Each edge costs the store to unpack an hour of samples.
const STRETCHES: i64 = 96;
/// Shortest stretch, ms.
const LEAST_STRETCH_MS: i64 = 900_000;

/// What went through one branch.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BranchView {
    /// Its short name.
    pub name: String,
    /// Its name for people.
    pub title: String,
    /// `source` or `load`.
    pub role: &'static str,
    /// True if it has no sensor and is what the others leave of the bank's current.
    pub computed: bool,
    /// Charge that it put into the bank, Ah; `null` where no samples of it are there.
    pub charge_in_ah: Option<f64>,
    /// Charge that it took out, Ah.
    pub charge_out_ah: Option<f64>,
    /// Energy that it put in, Wh.
    pub energy_in_wh: Option<f64>,
    /// Energy that it took out, Wh.
    pub energy_out_wh: Option<f64>,
    /// By how much its net charge may be off, Ah (95 %), by the errors of the sensors.
    pub error_ah: Option<f64>,
}

/// What went through a bank in a span.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct LedgerView {
    /// From when, RFC 3339.
    pub from: Option<String>,
    /// To when, RFC 3339.
    pub to: Option<String>,
    /// Seconds of it that samples of the bank cover.
    pub covered_s: f64,
    /// Seconds of it without samples.
    pub unseen_s: f64,
    /// Charge put in, Ah; `null` where there are no samples.
    pub charge_in_ah: Option<f64>,
    /// Charge taken out, Ah.
    pub charge_out_ah: Option<f64>,
    /// Energy put in, Wh.
    pub energy_in_wh: Option<f64>,
    /// Energy taken out, Wh.
    pub energy_out_wh: Option<f64>,
    /// The branches, in the order of the configuration.
    pub branches: Vec<BranchView>,
    /// Charge that the bank itself lost, Ah; `null` where that cannot be told.
    pub own_loss_ah: Option<BandView>,
    /// Charge that no branch accounts for, Ah; negative: more was taken out of the bank than its branches took.
    pub unaccounted_ah: Option<BandView>,
    /// What has to be said beside the figures.
    pub notes: Vec<String>,
}

/// Where a span is cut, so that neither the stretches are too long nor the edges too many.
fn edges(from: UtcMs, to: UtcMs) -> Vec<UtcMs> {
    let span_ms = (to.0 - from.0).max(1);
    let step_ms = (span_ms / STRETCHES).max(LEAST_STRETCH_MS);
    let inner = (1..).map(|step| from.0 + step * step_ms).take_while(|edge| *edge < to.0);
    std::iter::once(from.0).chain(inner).chain([to.0]).map(UtcMs).collect()
}

/// What went through a bank between two times.
///
/// # Errors
/// What the store reports.
pub fn ledger(reader: &Reader, aboard: &Aboard<'_>, from: UtcMs, to: UtcMs) -> Result<LedgerView> {
    let edges = edges(from, to);
    let bank = &aboard.bank.name;
    let devices = series_of(reader, bank, SeriesKind::Device)?;
    let whole = stretches::measured(reader, bank, [Channel::CURRENT, POWER, Channel::VOLTAGE], &edges)?;
    let mut branches = Vec::new();
    for channel in aboard.branches.iter().filter_map(|branch| branch.channel.as_ref()) {
        branches.push(branch_counts(reader, &devices, channel, &edges)?);
    }
    let mut builder = LedgerBuilder::new(aboard);
    for (place, [current, power, voltage]) in whole.iter().enumerate() {
        let of_stretch: Vec<Counts> = branches.iter().map(|counts| counts[place]).collect();
        builder.add(&Stretch {
            bank: counts_of(current, false),
            energy_in_wh: power.positive / 3600.0,
            energy_out_wh: 0.0 - power.negative / 3600.0,
            voltage_v: (voltage.count > 0).then(|| voltage.mean()),
            branches: &of_stretch,
        });
    }
    let span_s = to.seconds_since(from);
    let ends = ends(reader, aboard, from, to)?;
    let clock = [clock_note(&reader.watched(bank, from, to)?)];
    Ok(view((from, to), builder.finish(ends.as_ref(), Some(span_s)), clock.into_iter().flatten()))
}

fn view((from, to): (UtcMs, UtcMs), ledger: Ledger, further: impl Iterator<Item = String>) -> LedgerView {
    let Flow { covered_s, charge_in_ah, charge_out_ah, energy_in_wh, energy_out_wh } = ledger.bank;
    let seen = |value: f64| (covered_s > 0.0).then_some(value);
    let overlap = overlap_note(to.seconds_since(from), covered_s);
    LedgerView {
        from: rfc3339(from),
        to: rfc3339(to),
        covered_s,
        unseen_s: (to.seconds_since(from) - covered_s).max(0.0),
        charge_in_ah: seen(charge_in_ah),
        charge_out_ah: seen(charge_out_ah),
        energy_in_wh: seen(energy_in_wh),
        energy_out_wh: seen(energy_out_wh),
        branches: ledger.branches.into_iter().map(branch_view).collect(),
        own_loss_ah: ledger.own_loss_ah.map(BandView::from),
        unaccounted_ah: ledger.unaccounted_ah.map(BandView::from),
        notes: ledger.notes.into_iter().chain(overlap).chain(further).collect(),
    }
}

fn branch_view(line: BranchLine) -> BranchView {
    let seen = |value: f64| (line.flow.covered_s > 0.0).then_some(value);
    BranchView {
        charge_in_ah: seen(line.flow.charge_in_ah),
        charge_out_ah: seen(line.flow.charge_out_ah),
        energy_in_wh: seen(line.flow.energy_in_wh),
        energy_out_wh: seen(line.flow.energy_out_wh),
        error_ah: seen(Z95 * line.std_dev_ah),
        name: line.name,
        title: line.title,
        role: line.role,
        computed: line.computed,
    }
}

/// What the sensor of a branch counted in each stretch.
fn branch_counts(
    reader: &Reader,
    devices: &[SeriesInfo],
    channel: &BranchChannel,
    edges: &[UtcMs],
) -> Result<Vec<Counts>> {
    let mut counts = vec![Summary::EMPTY; edges.len() - 1];
    let has = |series: &&SeriesInfo| series.name == channel.device && series.channels.contains(&channel.channel);
    for series in devices.iter().filter(has) {
        let channels = reader.between(series.id, &[channel.channel.as_str()], edges)?;
        counts.iter_mut().zip(channels.iter().flatten()).for_each(|(sum, current)| sum.merge(current));
    }
    Ok(counts.iter().map(|current| counts_of(current, channel.reversed)).collect())
}

fn counts_of(current: &Summary, reversed: bool) -> Counts {
    let (positive_ah, negative_ah) = (current.positive / 3600.0, 0.0 - current.negative / 3600.0);
    let (charge_in_ah, charge_out_ah) = if reversed { (negative_ah, positive_ah) } else { (positive_ah, negative_ah) };
    Counts { covered_s: current.covered_s, charge_in_ah, charge_out_ah }
}

/// What is known of the bank at both ends; `None` where its state of charge at one is not.
fn ends(reader: &Reader, aboard: &Aboard<'_>, from: UtcMs, to: UtcMs) -> Result<Option<Ends>> {
    let name = &aboard.bank.name;
    let Some((begin, end)) = soc_at(reader, name, from)?.zip(soc_at(reader, name, to)?) else { return Ok(None) };
    let found = reader.findings(name, "capacity", UtcMs(i64::MIN), UtcMs(to.0.saturating_add(1)))?;
    let latest = found.iter().rev().find_map(|stored| match &stored.finding {
        Finding::Capacity(finding) => {
            finding.combined_after(stored.to_utc.map_or(0.0, |found| to.seconds_since(found)))
        }
        _ => None,
    });
    let rated_ah = aboard.bank.rated_capacity_ah;
    let unmeasured = Estimate { value: rated_ah, std_dev: CAPACITY_STD_DEV_RATIO * rated_ah };
    Ok(Some(Ends { begin, end, capacity_ah: latest.unwrap_or(unmeasured) }))
}
