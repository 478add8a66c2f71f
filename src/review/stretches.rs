//! What a bank did between neighbouring times, such as the local days of a year.

use super::series::{charge_lines, series_of};
use crate::quantity::{Band, BandedSoc, UtcMs};
use crate::store::{Reader, Result, SeriesInfo, SeriesKind, Summary};

/// Channels of a bank's main devices between neighbouring edges, which do not fall: one for each two of them. A channel
/// that no device has is empty.
///
/// # Errors
/// What the store reports.
pub fn measured<const N: usize>(
    reader: &Reader,
    bank: &str,
    channels: [&str; N],
    edges: &[UtcMs],
) -> Result<Vec<[Summary; N]>> {
    let mut stretches = vec![[Summary::EMPTY; N]; edges.len().saturating_sub(1)];
    for series in series_of(reader, bank, SeriesKind::Device)?.iter().filter(|series| series.has_power) {
        let has = |name: &str| name == super::POWER || series.channels.iter().any(|channel| channel == name);
        let (places, names): (Vec<usize>, Vec<&str>) =
            channels.iter().copied().enumerate().filter(|(_, name)| has(name)).unzip();
        for (place, summaries) in places.into_iter().zip(reader.between(series.id, &names, edges)?) {
            stretches.iter_mut().zip(&summaries).for_each(|(stretch, summary)| stretch[place].merge(summary));
        }
    }
    Ok(stretches)
}

/// The state of charge between neighbouring edges: reconciled as far as that line reaches, as reckoned at the time after
/// it, and where that line has nothing. One for each two edges, which do not fall.
///
/// # Errors
/// What the store reports.
pub fn charge(reader: &Reader, bank: &str, edges: &[UtcMs]) -> Result<Vec<Summary>> {
    let [reconciled, live] = charge_lines(reader, bank)?;
    let reach = reconciled.as_ref().map(|series| reader.reach(series.id)).transpose()?.flatten();
    let until = reach.map(|(_, last)| UtcMs(last.0.saturating_add(1)));
    // Cut where the reconciled line ends, the day of that moment is in two parts.
    let mut cut = edges.to_vec();
    if let Some(until) = until.filter(|until| edges.first() < Some(until) && Some(until) < edges.last()) {
        cut.insert(edges.partition_point(|edge| *edge < until), until);
    }
    let read = |series: Option<&SeriesInfo>| -> Result<Vec<Summary>> {
        let none = || vec![Summary::EMPTY; cut.len().saturating_sub(1)];
        let read = series.map(|series| reader.between(series.id, &["soc"], &cut)).transpose()?;
        Ok(read.and_then(|channels| channels.into_iter().next()).unwrap_or_else(none))
    };
    let (reconciled, live) = (read(reconciled.as_ref())?, read(live.as_ref())?);
    let mut days = vec![Summary::EMPTY; edges.len().saturating_sub(1)];
    for (start, (reconciled, live)) in cut.iter().zip(reconciled.iter().zip(&live)) {
        let day = edges.partition_point(|edge| edge <= start).saturating_sub(1);
        let known = if reconciled.count > 0 { reconciled } else { live };
        if let Some(day) = days.get_mut(day) {
            day.merge(known);
        }
    }
    Ok(days)
}

/// A point of the reckoned line counts for a moment this near, ms.
const NEAR_MS: i64 = 90_000;

/// The state of charge at a time, with the widest band near it: reconciled where that is known, else as reckoned at the
/// time; `None` where neither is.
///
/// # Errors
/// What the store reports.
pub fn soc_at(reader: &Reader, bank: &str, time: UtcMs) -> Result<Option<BandedSoc>> {
    let edges = [UtcMs(time.0.saturating_sub(NEAR_MS)), UtcMs(time.0.saturating_add(NEAR_MS))];
    let [reconciled, live] = charge_lines(reader, bank)?;
    for series in [reconciled, live].into_iter().flatten() {
        let near = reader.between(series.id, &["soc", "soc_low", "soc_high"], &edges)?;
        let summaries: Vec<&Summary> = near.iter().flatten().collect();
        if let [soc, low, high] = summaries[..]
            && soc.count > 0
        {
            return Ok(Some(BandedSoc { soc: soc.mean(), band: Band { low: low.min, high: high.max } }));
        }
    }
    Ok(None)
}
