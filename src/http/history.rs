//! History of a bank at any span, and its sums.

use std::collections::BTreeMap;
use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::live::Live;
use super::problem::Problem;
use super::recorded::{LIVE_TRACK, Line, MOST_POINTS, TRACK, Wanted, read_history, read_sums};
use crate::quantity::{Unit, UtcMs};
use crate::review::rfc3339;
use crate::store::{HistoryChannel, SeriesInfo, Source, StoredEvent, StoredFix, Unreadable};

/// Most fixes and events that a history carries as marks.
const MOST_MARKS: usize = 500;

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
    /// Which line `soc` is: `reconciled` (if not given) with what was learned at the next fix, `live` as reckoned at the
    /// time, or `both`: the reconciled one as `soc`, that of the time as `soc_live`.
    #[param(inline)]
    line: Option<Line>,
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
    /// Up to here `soc` is the reconciled line, UTC milliseconds, and may lie beyond the span; from there on it is the
    /// line as reckoned at the time. `null` where all of it is.
    reconciled_until_ms: Option<i64>,
    /// Columns by channel.
    channels: BTreeMap<String, ColumnView>,
    /// Fixes and events of the span.
    marks: Vec<MarkView>,
    /// Stretches whose samples are stored but cannot be read: gaps in the columns. Empty unless the store is damaged.
    unreadable: Vec<UnreadableView>,
}

/// A stretch of the record that cannot be read.
#[derive(Debug, Serialize, ToSchema)]
pub struct UnreadableView {
    /// Series that it is of.
    series: String,
    /// From when; `null` if that cannot be placed in time.
    from: Option<String>,
    /// To when; `null` if that cannot be placed in time.
    to: Option<String>,
    /// What is wrong with it.
    cause: String,
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
    /// Stretches that may be missing in the sums because their samples cannot be read. Empty unless the store is damaged.
    unreadable: Vec<UnreadableView>,
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
    let channels: Option<Vec<String>> =
        request.channels.as_ref().map(|list| list.split(',').map(|name| name.trim().to_owned()).collect());
    let (from, to) = (UtcMs(request.from_ms), UtcMs(request.to_ms));
    let line = request.line.unwrap_or_default();
    let lent = live
        .readers
        .lent(move |reader| {
            let wanted = Wanted { bank: &name, channels: channels.as_deref(), line, from, to, points };
            let recorded = read_history(reader, &wanted)?;
            let fixes = reader.fixes(&name, from, to, MOST_MARKS)?;
            let events = reader.events(Some(&name), from, to, MOST_MARKS)?;
            Ok((recorded, fixes, events, reader.all_series()?))
        })
        .await?;
    let (recorded, fixes, events, series) = lent.answer;
    Ok(Json(HistoryView {
        from_ms: request.from_ms,
        to_ms: request.to_ms,
        step_ms: recorded.merged.step_ms,
        time_ms: recorded.merged.time_ms,
        reconciled_until_ms: recorded.reconciled_until.map(|until| until.0),
        channels: column_views(recorded.merged.channels),
        marks: marks(fixes, events),
        unreadable: unreadable_views(lent.unreadable, &series),
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
    let lent = live.readers.lent(move |reader| Ok((read_sums(reader, &name, from, to)?, reader.all_series()?))).await?;
    let (total, series) = lent.answer;
    Ok(Json(SumsView {
        from_ms: request.from_ms,
        to_ms: request.to_ms,
        charge_in_ah: total.charge_in_ah,
        charge_out_ah: total.charge_out_ah,
        energy_in_wh: total.energy_in_wh,
        energy_out_wh: total.energy_out_wh,
        covered_s: total.covered_s,
        unreadable: unreadable_views(lent.unreadable, &series),
    }))
}

/// What an answer lacks. Minutes are made up for from samples.
pub(super) fn unreadable_views(rows: Vec<Unreadable>, series: &[SeriesInfo]) -> Vec<UnreadableView> {
    let of_answer = rows.into_iter().filter(|row| row.source != Source::MinuteChunk);
    of_answer
        .map(|row| UnreadableView {
            series: series.iter().find(|s| s.id == row.series).map_or_else(String::new, |s| s.name.clone()),
            from: row.utc.and_then(|(from, _)| rfc3339(from)),
            to: row.utc.and_then(|(_, to)| rfc3339(to)),
            cause: row.cause,
        })
        .collect()
}

fn check_span(from_ms: i64, to_ms: i64) -> std::result::Result<(), Problem> {
    // Beyond the year 9999 nothing can be written as RFC 3339.
    const YEAR_9999_MS: i64 = 253_402_300_799_000;
    let sane = from_ms < to_ms && from_ms >= 0 && to_ms <= YEAR_9999_MS;
    sane.then_some(()).ok_or_else(|| Problem::bad_request("from_ms and to_ms: expected 0 <= from_ms < to_ms"))
}

/// Columns by name. The three columns of a line become one with a band. Where two devices of a bank, one after the
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
    let lines = [TRACK, LIVE_TRACK].map(|names| (names[0], names.map(|name| by_name.remove(name))));
    let mut views: BTreeMap<String, ColumnView> = by_name
        .into_iter()
        .map(|(name, c)| {
            let unit = Unit::of_name(&name).symbol();
            (name, ColumnView { unit, min: Some(c.min), low: None, mean: c.mean, max: Some(c.max), high: None })
        })
        .collect();
    for (name, columns) in lines {
        if let [Some(soc), Some(low), Some(high)] = columns {
            let (low, high) = (Some(low.min), Some(high.max));
            let band = ColumnView { unit: Unit::One.symbol(), min: None, low, mean: soc.mean, max: None, high };
            views.insert(name.to_owned(), band);
        }
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
