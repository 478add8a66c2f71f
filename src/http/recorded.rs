//! Reads what a history shows from the store: measured channels, and the line of charge as reckoned at the time, as
//! reconciled after the next fix, or both.

use serde::Deserialize;
use utoipa::ToSchema;

use super::merge::{BRIDGED_MS, Merged, merge, onto, over};
use crate::quantity::UtcMs;
use crate::review::{charge_lines, series_of};
use crate::store::{History, HistoryQuery, Reader, Result, SeriesInfo, SeriesKind, Sums};

/// Most bins of an answer.
pub const MOST_POINTS: usize = 5000;
/// Bins narrower than this show single samples; the reckoned track is slower and drawn between.
const TRACK_STEP_MS: i64 = 60_000;
/// Channels of the reckoned track: the likely value and the edges of its band.
pub const TRACK: [&str; 3] = ["soc", "soc_low", "soc_high"];
/// The line as reckoned at the time, where it stands beside the reconciled one.
pub const LIVE_TRACK: [&str; 3] = ["soc_live", "soc_live_low", "soc_live_high"];

/// Which line of charge is shown.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Line {
    /// As reconciled after the next fix; since the last fix, as reckoned at the time.
    #[default]
    Reconciled,
    /// As reckoned at the time.
    Live,
    /// The reconciled one as `soc`, that of the time as `soc_live`.
    Both,
}

/// What is asked of the store.
pub struct Wanted<'a> {
    /// The bank.
    pub bank: &'a str,
    /// Names of channels; all if `None`.
    pub channels: Option<&'a [String]>,
    /// Which line of charge.
    pub line: Line,
    /// From here.
    pub from: UtcMs,
    /// To here.
    pub to: UtcMs,
    /// Most bins.
    pub points: usize,
}

/// What the store holds of it.
pub struct Recorded {
    /// The columns on one axis.
    pub merged: Merged,
    /// Up to here the line shown as `soc` is reconciled; `None` where none of the span is.
    pub reconciled_until: Option<UtcMs>,
}

/// Reads a history.
///
/// # Errors
/// What the store reports.
pub fn read_history(reader: &Reader, wanted: &Wanted) -> Result<Recorded> {
    let mut parts = Vec::new();
    for series in series_of(reader, wanted.bank, SeriesKind::Device)? {
        let mut channels = series.channels.clone();
        channels.extend(series.has_power.then(|| "power_w".to_owned()));
        if let Some(names) = wanted.channels {
            channels.retain(|channel| names.contains(channel));
        }
        if !channels.is_empty() {
            let Wanted { from, to, points, .. } = *wanted;
            parts.push(reader.history(&HistoryQuery { series: series.id, channels, from, to, points })?);
        }
    }
    let with_soc = wanted.channels.is_none_or(|names| names.iter().any(|channel| channel == "soc"));
    if !with_soc {
        return Ok(Recorded { merged: merge(parts), reconciled_until: None });
    }
    // Samples are faster than the track: lay the track on their times. Otherwise the bins meet.
    let fine = parts.iter().any(|part| part.step_ms < TRACK_STEP_MS && !part.time_ms.is_empty());
    let (lines, reconciled_until) = read_lines(reader, wanted, fine)?;
    if !fine {
        parts.extend(lines);
        return Ok(Recorded { merged: merge(parts), reconciled_until });
    }
    let mut merged = merge(parts);
    for line in lines {
        let laid = onto(&line, &merged.time_ms);
        merged.channels.extend(laid);
    }
    Ok(Recorded { merged, reconciled_until })
}

/// The lines of charge that are wanted, and how far the first of them is reconciled.
fn read_lines(reader: &Reader, wanted: &Wanted, fine: bool) -> Result<(Vec<History>, Option<UtcMs>)> {
    // The points on either side of the span carry the line to its edges.
    let beyond_ms = if fine { BRIDGED_MS } else { 0 };
    let points = if fine { MOST_POINTS } else { wanted.points };
    let (from, to) = (UtcMs(wanted.from.0 - beyond_ms), UtcMs(wanted.to.0 + beyond_ms));
    let read = |series: &SeriesInfo| {
        let channels = TRACK.map(str::to_owned).to_vec();
        reader.history(&HistoryQuery { series: series.id, channels, from, to, points })
    };
    let [reconciled, live] = charge_lines(reader, wanted.bank)?;
    let Some(live) = live.as_ref().map(read).transpose()? else { return Ok((Vec::new(), None)) };
    let series = reconciled.as_ref().filter(|_| wanted.line != Line::Live);
    let Some(series) = series else {
        let both = wanted.line == Line::Both;
        return Ok((if both { vec![live.clone(), named(live, LIVE_TRACK)] } else { vec![live] }, None));
    };
    let until = reader.reach(series.id)?.map(|(_, last)| last).filter(|last| *last >= wanted.from);
    let line = over(&live, &read(series)?);
    let beside = (wanted.line == Line::Both).then(|| named(live, LIVE_TRACK));
    Ok(([Some(line), beside].into_iter().flatten().collect(), until))
}

fn named(mut history: History, names: [&str; 3]) -> History {
    for (channel, name) in history.channels.iter_mut().zip(names) {
        name.clone_into(&mut channel.name);
    }
    history
}

/// Charge and energy that moved in a span.
///
/// # Errors
/// What the store reports.
pub fn read_sums(reader: &Reader, bank: &str, from: UtcMs, to: UtcMs) -> Result<Sums> {
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
