//! What went through a bank in any span, branch by branch.
//!
//! Charges are exact sums of the store. The energy of a branch is its charge, stretch by stretch, at the bank's mean
//! voltage of that stretch: within a stretch voltage moves by a few per cent, and so much may the energy be off.

use serde::Serialize;
use utoipa::ToSchema;

use super::POWER;
use super::notes::{clock_note, unseen_note};
use super::series::series_of;
use super::values::{BandView, rfc3339};
use crate::battery::{Branch, BranchChannel};
use crate::health::Aboard;
use crate::quantity::{Channel, UtcMs};
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

/// Charge and energy both ways, ≥ 0.
#[derive(Debug, Clone, Copy, Default)]
struct Flow {
    covered_s: f64,
    charge_in_ah: f64,
    charge_out_ah: f64,
    energy_in_wh: f64,
    energy_out_wh: f64,
}

/// What went through a bank between two times.
///
/// # Errors
/// What the store reports.
pub fn ledger(reader: &Reader, aboard: &Aboard<'_>, from: UtcMs, to: UtcMs) -> Result<LedgerView> {
    let edges = edges(from, to);
    let bank = &aboard.bank.name;
    let devices = series_of(reader, bank, SeriesKind::Device)?;
    let (whole, voltage_v) = bank_flow(reader, &devices, &edges)?;
    let mut branches = Vec::new();
    for branch in aboard.branches {
        let flow = match &branch.channel {
            Some(channel) => branch_flow(reader, &devices, channel, &edges, &voltage_v)?,
            None => None,
        };
        branches.push((branch, flow));
    }
    let span_s = to.seconds_since(from);
    let notes = unseen_note(span_s, whole.covered_s).into_iter().chain(clock_note(&reader.watched(bank, from, to)?));
    let seen = |value: f64| (whole.covered_s > 0.0).then_some(value);
    Ok(LedgerView {
        from: rfc3339(from),
        to: rfc3339(to),
        covered_s: whole.covered_s,
        unseen_s: (span_s - whole.covered_s).max(0.0),
        charge_in_ah: seen(whole.charge_in_ah),
        charge_out_ah: seen(whole.charge_out_ah),
        energy_in_wh: seen(whole.energy_in_wh),
        energy_out_wh: seen(whole.energy_out_wh),
        branches: branches.into_iter().map(|(branch, flow)| branch_view(branch, flow)).collect(),
        own_loss_ah: None,
        unaccounted_ah: None,
        notes: notes.collect(),
    })
}

fn branch_view(branch: &Branch, flow: Option<Flow>) -> BranchView {
    BranchView {
        name: branch.name.clone(),
        title: branch.title.clone(),
        role: branch.role.word(),
        computed: branch.channel.is_none(),
        charge_in_ah: flow.map(|flow| flow.charge_in_ah),
        charge_out_ah: flow.map(|flow| flow.charge_out_ah),
        energy_in_wh: flow.map(|flow| flow.energy_in_wh),
        energy_out_wh: flow.map(|flow| flow.energy_out_wh),
        error_ah: None,
    }
}

/// What went through the bank, and its mean voltage in each stretch; NaN where there is none.
fn bank_flow(reader: &Reader, devices: &[SeriesInfo], edges: &[UtcMs]) -> Result<(Flow, Vec<f64>)> {
    let mut flow = Flow::default();
    let mut voltages = vec![Summary::EMPTY; edges.len() - 1];
    for series in devices.iter().filter(|series| series.has_power) {
        let channels = reader.between(series.id, &[Channel::CURRENT, POWER, Channel::VOLTAGE], edges)?;
        let [currents, powers, volts] = &channels[..] else { continue };
        for (current, power) in currents.iter().zip(powers) {
            flow.covered_s += current.covered_s;
            flow.charge_in_ah += current.positive / 3600.0;
            flow.charge_out_ah -= current.negative / 3600.0;
            flow.energy_in_wh += power.positive / 3600.0;
            flow.energy_out_wh -= power.negative / 3600.0;
        }
        voltages.iter_mut().zip(volts).for_each(|(voltage, volts)| voltage.merge(volts));
    }
    Ok((flow, voltages.iter().map(Summary::mean).collect()))
}

/// What went through a branch; `None` without samples of its channel.
fn branch_flow(
    reader: &Reader,
    devices: &[SeriesInfo],
    channel: &BranchChannel,
    edges: &[UtcMs],
    voltage_v: &[f64],
) -> Result<Option<Flow>> {
    let mut flow = Flow::default();
    let has = |series: &&SeriesInfo| series.name == channel.device && series.channels.contains(&channel.channel);
    for series in devices.iter().filter(has) {
        let channels = reader.between(series.id, &[channel.channel.as_str()], edges)?;
        let stretches = channels.iter().flatten().zip(voltage_v);
        for (current, voltage_v) in stretches.filter(|(current, _)| current.covered_s > 0.0) {
            let (positive_ah, negative_ah) = (current.positive / 3600.0, 0.0 - current.negative / 3600.0);
            let (in_ah, out_ah) =
                if channel.reversed { (negative_ah, positive_ah) } else { (positive_ah, negative_ah) };
            flow.covered_s += current.covered_s;
            flow.charge_in_ah += in_ah;
            flow.charge_out_ah += out_ah;
            // Without the bank's voltage there is no energy to tell of this stretch; the note on unseen time covers it.
            if voltage_v.is_finite() {
                flow.energy_in_wh += in_ah * voltage_v;
                flow.energy_out_wh += out_ah * voltage_v;
            }
        }
    }
    Ok((flow.covered_s > 0.0).then_some(flow))
}
