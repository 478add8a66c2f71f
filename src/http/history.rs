//! History of a bank at any span, and its sums.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::live::Live;
use super::merge::{BRIDGED_MS, Merged, merge, onto};
use super::problem::Problem;
use crate::quantity::{Unit, UtcMs};
use crate::store::{
    HistoryChannel, HistoryQuery, Reader, Result, SeriesInfo, SeriesKind, StoredEvent, StoredFix, Sums,
};

/// Most bins of an answer.
const MOST_POINTS: usize = 5000;
/// Most fixes and events that a history carries as marks.
const MOST_MARKS: usize = 500;
/// Bins narrower than this show single samples; the reckoned track is slower and drawn between.
const TRACK_STEP_MS: i64 = 60_000;
/// Channels of the reckoned track: the likely value and the edges of its band.
const TRACK: [&str; 3] = ["soc", "soc_low", "soc_high"];

/// What to show.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct HistoryRequest {
    /// From here, UTC milliseconds.
    from_ms: i64,
    /// To here, UTC milliseconds.
    to_ms: i64,
    /// Most bins wanted, 1 to 5000; 1500 if not given.
    points: Option<usize>,
    /// Names of channels, separated by commas; all if not given, with `power_w` and `soc`.
    channels: Option<String>,
}

/// A span.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct SpanRequest {
    /// From here, UTC milliseconds.
    from_ms: i64,
    /// To here, UTC milliseconds.
    to_ms: i64,
}

/// One channel; each column as long as the times. State of charge has `low` and `high` (its band) instead of `min` and
/// `max`.
#[derive(Debug, Serialize, ToSchema)]
pub struct ColumnView {
    /// Symbol of the unit.
    unit: &'static str,
    /// Smallest value in each bin.
    #[serde(skip_serializing_if = "Option::is_none")]
    min: Option<Vec<Option<f64>>>,
    /// Lower edge of the band.
    #[serde(skip_serializing_if = "Option::is_none")]
    low: Option<Vec<Option<f64>>>,
    /// Mean of each bin.
    mean: Vec<Option<f64>>,
    /// Largest value in each bin.
    #[serde(skip_serializing_if = "Option::is_none")]
    max: Option<Vec<Option<f64>>>,
    /// Upper edge of the band.
    #[serde(skip_serializing_if = "Option::is_none")]
    high: Option<Vec<Option<f64>>>,
}

/// A fix or an event on the time axis.
#[derive(Debug, Serialize, ToSchema)]
pub struct MarkView {
    /// When, UTC milliseconds.
    time_ms: i64,
    /// `fix` or `event`.
    kind: &'static str,
    /// What it is: the kind of the fix or of the event.
    title: String,
    /// For people.
    text: String,
}

/// History in bins; a row without values is a gap.
#[derive(Debug, Serialize, ToSchema)]
pub struct HistoryView {
    /// As asked.
    from_ms: i64,
    /// As asked.
    to_ms: i64,
    /// Width of a bin, ms.
    step_ms: i64,
    /// Where each bin begins, UTC milliseconds, rising.
    time_ms: Vec<i64>,
    /// Columns by channel.
    channels: BTreeMap<String, ColumnView>,
    /// Fixes and events of the span.
    marks: Vec<MarkView>,
}

/// Charge and energy moved in a span.
#[derive(Debug, Serialize, ToSchema)]
pub struct SumsView {
    /// As asked.
    from_ms: i64,
    /// As asked.
    to_ms: i64,
    /// Charge put in, Ah.
    charge_in_ah: f64,
    /// Charge taken out, Ah.
    charge_out_ah: f64,
    /// Energy put in, Wh.
    energy_in_wh: f64,
    /// Energy taken out, Wh.
    energy_out_wh: f64,
    /// Seconds of the span that samples cover.
    covered_s: f64,
}

/// History of a bank, thinned to what a screen can show.
#[utoipa::path(get, path = "/api/v1/banks/{name}/history", params(("name" = String, Path, description = "Name of the bank"), HistoryRequest), responses((status = 200, body = HistoryView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn history(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<HistoryRequest>,
) -> std::result::Result<Json<HistoryView>, Problem> {
    banks::find(&live, &name)?;
    check_span(request.from_ms, request.to_ms)?;
    let points = request.points.unwrap_or(1500).clamp(1, MOST_POINTS);
    let wanted: Option<Vec<String>> =
        request.channels.as_ref().map(|list| list.split(',').map(|name| name.trim().to_owned()).collect());
    let (from, to) = (UtcMs(request.from_ms), UtcMs(request.to_ms));
    let (merged, fixes, events) = live
        .readers
        .with(move |reader| {
            let merged = read_history(reader, &name, wanted.as_deref(), (from, to), points)?;
            let fixes = reader.fixes(&name, from, to, MOST_MARKS)?;
            let events = reader.events(Some(&name), from, to, MOST_MARKS)?;
            Ok((merged, fixes, events))
        })
        .await?;
    Ok(Json(HistoryView {
        from_ms: request.from_ms,
        to_ms: request.to_ms,
        step_ms: merged.step_ms,
        time_ms: merged.time_ms,
        channels: column_views(merged.channels),
        marks: marks(fixes, events),
    }))
}

/// Charge and energy that moved in a span.
#[utoipa::path(get, path = "/api/v1/banks/{name}/sums", params(("name" = String, Path, description = "Name of the bank"), SpanRequest), responses((status = 200, body = SumsView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn sums(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<SpanRequest>,
) -> std::result::Result<Json<SumsView>, Problem> {
    banks::find(&live, &name)?;
    check_span(request.from_ms, request.to_ms)?;
    let (from, to) = (UtcMs(request.from_ms), UtcMs(request.to_ms));
    let total = live.readers.with(move |reader| read_sums(reader, &name, from, to)).await?;
    Ok(Json(SumsView {
        from_ms: request.from_ms,
        to_ms: request.to_ms,
        charge_in_ah: total.charge_in_ah,
        charge_out_ah: total.charge_out_ah,
        energy_in_wh: total.energy_in_wh,
        energy_out_wh: total.energy_out_wh,
        covered_s: total.covered_s,
    }))
}

fn check_span(from_ms: i64, to_ms: i64) -> std::result::Result<(), Problem> {
    // Beyond the year 9999 nothing can be written as RFC 3339.
    const YEAR_9999_MS: i64 = 253_402_300_799_000;
    let sane = from_ms < to_ms && from_ms >= 0 && to_ms <= YEAR_9999_MS;
    sane.then_some(()).ok_or_else(|| Problem::bad_request("from_ms and to_ms: expected 0 <= from_ms < to_ms"))
}

fn series_of(reader: &Reader, bank: &str, kind: SeriesKind) -> Result<Vec<SeriesInfo>> {
    Ok(reader.all_series()?.into_iter().filter(|s| s.bank == bank && s.kind == kind.as_str()).collect())
}

fn read_history(
    reader: &Reader,
    bank: &str,
    wanted: Option<&[String]>,
    (from, to): (UtcMs, UtcMs),
    points: usize,
) -> Result<Merged> {
    let query = |series: &SeriesInfo, channels| HistoryQuery { series: series.id, channels, from, to, points };
    let mut parts = Vec::new();
    for series in series_of(reader, bank, SeriesKind::Device)? {
        let mut channels = series.channels.clone();
        channels.extend(series.has_power.then(|| "power_w".to_owned()));
        if let Some(wanted) = wanted {
            channels.retain(|channel| wanted.contains(channel));
        }
        if !channels.is_empty() {
            parts.push(reader.history(&query(&series, channels))?);
        }
    }
    // Samples are faster than the track: lay the track on their times. Otherwise the bins meet.
    let fine = parts.iter().any(|part| part.step_ms < TRACK_STEP_MS && !part.time_ms.is_empty());
    // The points on either side of the span carry the line to its edges.
    let beyond_ms = if fine { BRIDGED_MS } else { 0 };
    let (from, to) = (UtcMs(from.0 - beyond_ms), UtcMs(to.0 + beyond_ms));
    let points = if fine { MOST_POINTS } else { points };
    let mut tracks = Vec::new();
    if wanted.is_none_or(|wanted| wanted.iter().any(|channel| channel == "soc")) {
        for series in series_of(reader, bank, SeriesKind::Reckoning)? {
            let channels = TRACK.map(str::to_owned).to_vec();
            tracks.push(reader.history(&HistoryQuery { series: series.id, channels, from, to, points })?);
        }
    }
    if !fine {
        parts.append(&mut tracks);
        return Ok(merge(parts));
    }
    let mut merged = merge(parts);
    for track in tracks {
        let laid = onto(&track, &merged.time_ms);
        merged.channels.extend(laid);
    }
    Ok(merged)
}

fn read_sums(reader: &Reader, bank: &str, from: UtcMs, to: UtcMs) -> Result<Sums> {
    let mut total = Sums::default();
    for series in series_of(reader, bank, SeriesKind::Device)?.iter().filter(|series| series.has_power) {
        let sums = reader.sums(series.id, from, to)?;
        total.charge_in_ah += sums.charge_in_ah;
        total.charge_out_ah += sums.charge_out_ah;
        total.energy_in_wh += sums.energy_in_wh;
        total.energy_out_wh += sums.energy_out_wh;
        total.covered_s += sums.covered_s;
    }
    Ok(total)
}

/// Columns by name. The three columns of the track become one with a band. Where two devices of a bank, one after the
/// other, reported the same channel, the columns are one.
fn column_views(channels: Vec<HistoryChannel>) -> BTreeMap<String, ColumnView> {
    let mut by_name: BTreeMap<String, HistoryChannel> = BTreeMap::new();
    for channel in channels {
        match by_name.get_mut(&channel.name) {
            Some(first) => fill(first, channel),
            None => {
                by_name.insert(channel.name.clone(), channel);
            }
        }
    }
    let [soc, low, high] = TRACK.map(|name| by_name.remove(name));
    let mut views: BTreeMap<String, ColumnView> = by_name
        .into_iter()
        .map(|(name, c)| {
            let unit = Unit::of_name(&name).symbol();
            (name, ColumnView { unit, min: Some(c.min), low: None, mean: c.mean, max: Some(c.max), high: None })
        })
        .collect();
    if let (Some(soc), Some(low), Some(high)) = (soc, low, high) {
        let unit = Unit::One.symbol();
        let band = ColumnView { unit, min: None, low: Some(low.min), mean: soc.mean, max: None, high: Some(high.max) };
        views.insert("soc".to_owned(), band);
    }
    views
}

fn fill(first: &mut HistoryChannel, other: HistoryChannel) {
    let fill = |into: &mut Vec<Option<f64>>, from: Vec<Option<f64>>| {
        for (slot, value) in into.iter_mut().zip(from) {
            *slot = slot.or(value);
        }
    };
    fill(&mut first.min, other.min);
    fill(&mut first.mean, other.mean);
    fill(&mut first.max, other.max);
}

fn marks(fixes: Vec<StoredFix>, events: Vec<StoredEvent>) -> Vec<MarkView> {
    let fixes = fixes.into_iter().filter_map(|stored| {
        let time_ms = stored.utc?.0;
        Some(MarkView { time_ms, kind: "fix", title: stored.fix.kind, text: stored.fix.text })
    });
    let events = events.into_iter().filter_map(|stored| {
        let time_ms = stored.last_utc?.0;
        Some(MarkView { time_ms, kind: "event", title: stored.event.kind, text: stored.event.text })
    });
    let mut marks: Vec<MarkView> = fixes.chain(events).collect();
    marks.sort_by_key(|mark| mark.time_ms);
    marks
}
