//! Passages: what each comes to, with its times in UTC.

use serde::Serialize;
use utoipa::ToSchema;

use super::ledger::{LedgerView, ledger};
use super::notes::{overlap_note, unseen_note};
use super::values::{AtView, SocView, rfc3339, time_of};
use crate::health::Aboard;
use crate::passage::Summary;
use crate::quantity::{Timeline, UtcMs};
use crate::store::{Reader, Result, StoredPassage};

/// What a passage comes to. Currents and powers are positive when they charge the bank; charges and energies are ≥ 0.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SummaryView {
    /// From its first to its last moment by the clock, s; `null` where that cannot be told.
    pub duration_s: Option<f64>,
    /// Seconds of it that samples cover.
    pub covered_s: f64,
    /// Charge put in, Ah.
    pub charge_in_ah: f64,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// Charge put in less charge taken out, Ah.
    pub net_ah: f64,
    /// Energy put in less energy taken out, Wh.
    pub net_wh: f64,
    /// State of charge at its beginning.
    pub soc_begin: Option<SocView>,
    /// State of charge at its end.
    pub soc_end: Option<SocView>,
    /// The lowest state of charge.
    pub soc_lowest: Option<SocView>,
    /// When that was, RFC 3339.
    pub soc_lowest_time: Option<String>,
    /// True if the states of charge are reconciled with the fix after it; otherwise they are as reckoned at the time.
    pub reconciled: bool,
    /// Lowest voltage, V.
    pub voltage_min: Option<AtView>,
    /// Highest voltage, V.
    pub voltage_max: Option<AtView>,
    /// Strongest discharge, A.
    pub current_min: Option<AtView>,
    /// Strongest charge, A.
    pub current_max: Option<AtView>,
    /// Strongest discharge, W.
    pub power_min: Option<AtView>,
    /// Strongest charge, W.
    pub power_max: Option<AtView>,
    /// Coldest, °C.
    pub temperature_min: Option<AtView>,
    /// Warmest, °C.
    pub temperature_max: Option<AtView>,
    /// Seconds of discharge above a fifth of the rated capacity per hour.
    pub above_c5_s: f64,
    /// Seconds above a half.
    pub above_c2_s: f64,
    /// Seconds above the whole.
    pub above_1c_s: f64,
    /// How often the charge fell below half and came up again.
    pub deep_excursions: u32,
    /// Mean load while discharging, A (≥ 0).
    pub mean_load_a: Option<f64>,
    /// Load that was exceeded for a twentieth of the time of discharge, A (≥ 0).
    pub load_95_a: Option<f64>,
    /// Seconds below the reserve.
    pub below_reserve_s: f64,
    /// Whether the reserve was touched.
    pub reserve_touched: bool,
    /// Nautical miles over ground, where a channel has the speed.
    pub distance_nm: Option<f64>,
    /// Energy taken out for each nautical mile, Wh.
    pub wh_per_nm: Option<f64>,
}

/// A passage.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PassageView {
    /// Its number.
    pub id: i64,
    /// Name by hand; empty where there is none.
    pub name: String,
    /// Note by hand; empty where there is none.
    pub note: String,
    /// `found` in the data, or `hand` where somebody marked or changed it.
    pub origin: &'static str,
    /// Its first moment, RFC 3339; `null` if it cannot be placed in time.
    pub begin: Option<String>,
    /// Its last moment, RFC 3339; `null` while it goes on, or if it cannot be placed in time.
    pub end: Option<String>,
    /// True while it goes on.
    pub going_on: bool,
    /// True once its summary rests on the reconciled history of all of it.
    pub settled: bool,
    /// What it comes to; `null` until that is worked out.
    pub summary: Option<SummaryView>,
}

/// Distances below this give no energy per mile: a boat that swings at her anchor.
const LEAST_DISTANCE_NM: f64 = 0.5;

impl SummaryView {
    fn new(summary: &Summary, timeline: &Timeline) -> SummaryView {
        let at = |at: Option<crate::passage::At>| at.map(|at| AtView::new(at, timeline));
        let distance = summary.distance_nm.filter(|nm| *nm >= LEAST_DISTANCE_NM);
        SummaryView {
            duration_s: summary.duration_s,
            covered_s: summary.covered_s,
            charge_in_ah: summary.charge_in_ah,
            charge_out_ah: summary.charge_out_ah,
            energy_in_wh: summary.energy_in_wh,
            energy_out_wh: summary.energy_out_wh,
            net_ah: summary.charge_in_ah - summary.charge_out_ah,
            net_wh: summary.energy_in_wh - summary.energy_out_wh,
            soc_begin: summary.soc_begin.map(SocView::from),
            soc_end: summary.soc_end.map(SocView::from),
            soc_lowest: summary.soc_lowest.map(SocView::from),
            soc_lowest_time: summary.soc_lowest_at.and_then(|at| time_of(timeline, at)),
            reconciled: summary.reconciled,
            voltage_min: at(summary.voltage_min),
            voltage_max: at(summary.voltage_max),
            current_min: at(summary.current_min),
            current_max: at(summary.current_max),
            power_min: at(summary.power_min),
            power_max: at(summary.power_max),
            temperature_min: at(summary.temperature_min),
            temperature_max: at(summary.temperature_max),
            above_c5_s: summary.above_c5_s,
            above_c2_s: summary.above_c2_s,
            above_1c_s: summary.above_1c_s,
            deep_excursions: summary.deep_excursions,
            mean_load_a: summary.mean_load_a,
            load_95_a: summary.load_95_a,
            below_reserve_s: summary.below_reserve_s,
            reserve_touched: summary.below_reserve_s > 0.0,
            distance_nm: summary.distance_nm,
            wh_per_nm: distance.map(|nm| summary.energy_out_wh / nm),
        }
    }
}

impl PassageView {
    /// A stored passage, its moments placed by `timeline`.
    #[must_use]
    pub fn new(stored: &StoredPassage, timeline: &Timeline) -> PassageView {
        PassageView {
            id: stored.id,
            name: stored.name.clone(),
            note: stored.note.clone(),
            origin: stored.origin.word(),
            begin: stored.begin_utc.and_then(rfc3339),
            end: stored.end_utc.and_then(rfc3339),
            going_on: stored.end.is_none(),
            settled: stored.settled,
            summary: stored.summary.as_ref().map(|summary| SummaryView::new(summary, timeline)),
        }
    }
}

/// The passages of a bank that reach into `from` to `to`, the latest first, at most `limit`. One that cannot be placed in
/// time is among them only where no time is asked for.
///
/// # Errors
/// What the store reports.
pub fn passages(
    reader: &Reader,
    bank: &str,
    from: Option<UtcMs>,
    to: Option<UtcMs>,
    limit: usize,
) -> Result<Vec<PassageView>> {
    let timeline = reader.timeline()?;
    let ends_before = |passage: &StoredPassage, from: UtcMs| match (passage.end, passage.end_utc) {
        (None, _) => false,
        (Some(_), end) => end.is_none_or(|end| end < from),
    };
    let begins_after = |passage: &StoredPassage, to: UtcMs| passage.begin_utc.is_none_or(|begin| begin >= to);
    let mut stored = reader.passages(bank)?;
    stored.retain(|passage| {
        !from.is_some_and(|from| ends_before(passage, from)) && !to.is_some_and(|to| begins_after(passage, to))
    });
    Ok(stored.iter().rev().take(limit).map(|passage| PassageView::new(passage, &timeline)).collect())
}

/// A passage with its ledger.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct OnePassageView {
    /// The passage.
    pub passage: PassageView,
    /// What went through each branch in it; `null` where its time cannot be told, or while it goes on.
    pub ledger: Option<LedgerView>,
    /// What has to be said beside its figures.
    pub notes: Vec<String>,
}

/// A passage with what went through each branch, if what is aboard is known.
///
/// # Errors
/// What the store reports.
pub fn one_passage(reader: &Reader, stored: &StoredPassage, aboard: Option<&Aboard<'_>>) -> Result<OnePassageView> {
    let passage = PassageView::new(stored, &*reader.timeline()?);
    let span = stored.begin_utc.zip(stored.end_utc).filter(|(begin, end)| begin < end);
    let ledger = aboard.zip(span).map(|(aboard, (from, to))| ledger(reader, aboard, from, to)).transpose()?;
    Ok(OnePassageView { passage, ledger, notes: passage_notes(stored) })
}

/// What has to be said beside a passage's figures.
fn passage_notes(stored: &StoredPassage) -> Vec<String> {
    let mut notes = Vec::new();
    if stored.begin_utc.is_none() || (stored.end.is_some() && stored.end_utc.is_none()) {
        notes.push("The computer had no clock then: when this passage was cannot be told.".to_owned());
    }
    if stored.begin_utc.zip(stored.end_utc).is_some_and(|(begin, end)| end <= begin) {
        notes.push(
            "By the clock this passage ends before it begins: the clock was set meanwhile. Its sums are right, its times are not."
                .to_owned(),
        );
    }
    match &stored.summary {
        None => notes.push("Its samples have not been looked at yet.".to_owned()),
        Some(summary) if summary.covered_s <= 0.0 => notes.push("There are no samples of it.".to_owned()),
        Some(summary) => {
            if let Some(span_s) = summary.duration_s {
                notes.extend(unseen_note(span_s, summary.covered_s));
                notes.extend(overlap_note(span_s, summary.covered_s));
            }
            if stored.end.is_none() {
                notes.push("It still goes on: the sums are those up to the last look.".to_owned());
            } else if !summary.reconciled {
                notes.push("States of charge are as reckoned at the time; no fix has come since.".to_owned());
            }
        }
    }
    notes
}
