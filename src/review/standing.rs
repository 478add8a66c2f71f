//! How a bank stands before a capacity test: when it was full, what was taken out since, how long it has rested.

use super::POWER;
use super::series::series_of;
use super::stretches;
use crate::health::Aboard;
use crate::health::Latest;
use crate::quantity::{Channel, UtcMs};
use crate::reckoning::{FixKind, REST_RATE};
use crate::store::{HistoryQuery, Reader, Result, SeriesKind, Summary};

/// How far back a rest and a charge are looked for, ms: what lies further back is no rest before a test.
const BACK_MS: i64 = 48 * 3_600_000;
/// Bins of that time: about a minute each.
const BINS: usize = 3000;
/// Charge taken out after which a charger that holds the bank no longer holds it full, parts of the rating (assumed).
const STILL_FULL: f64 = 0.01;
/// Fixes that are looked through for the last full one.
const MOST_FIXES: usize = 10_000;

/// When the bank was full last.
///
/// # Errors
/// What the store reports.
pub fn last_full(reader: &Reader, bank: &str) -> Result<Option<UtcMs>> {
    let fixes = reader.fixes(bank, UtcMs(i64::MIN), UtcMs(i64::MAX), MOST_FIXES)?;
    Ok(fixes.into_iter().find(|stored| stored.fix.kind == FixKind::Full.word()).and_then(|stored| stored.utc))
}

/// Time and mean of each bin of a channel.
type Line = Vec<(UtcMs, f64)>;

/// How a bank stands by its last sample; `None` where nothing is stored of it.
///
/// # Errors
/// What the store reports.
pub fn standing(reader: &Reader, aboard: &Aboard<'_>) -> Result<Option<Latest>> {
    let bank = aboard.bank;
    let main = series_of(reader, &bank.name, SeriesKind::Device)?.into_iter().find(|series| series.has_power);
    let Some((_, now)) = main.as_ref().map(|main| reader.reach(main.id)).transpose()?.flatten() else {
        return Ok(None);
    };
    let Some(main) = main else { return Ok(None) };
    let read = |channel: &str| -> Result<Line> {
        if !main.channels.iter().any(|name| name == channel) {
            return Ok(Vec::new());
        }
        let (from, to) = (UtcMs(now.0 - BACK_MS), UtcMs(now.0 + 1));
        let query = HistoryQuery { series: main.id, channels: vec![channel.to_owned()], from, to, points: BINS };
        let history = reader.history(&query)?;
        let means = history.channels.into_iter().next().map(|channel| channel.mean).unwrap_or_default();
        Ok(history.time_ms.into_iter().zip(means).filter_map(|(ms, mean)| Some((UtcMs(ms), mean?))).collect())
    };
    let current = read(Channel::CURRENT)?;
    let full = last_full(reader, &bank.name)?;
    let taken_ah = match full {
        None => 0.0,
        Some(full) => {
            let edges = [full, UtcMs(now.0 + 1)];
            let sums = stretches::measured(reader, &bank.name, [Channel::CURRENT, POWER], &edges)?;
            let net = |current: &Summary| (0.0 - current.positive - current.negative).max(0.0) / 3600.0;
            sums.first().map_or(0.0, |[current, _]| net(current))
        }
    };
    let held_full = taken_ah <= STILL_FULL * bank.rated_capacity_ah;
    let charged = current.iter().rev().find(|(_, amps)| *amps > 0.0).map(|(time, _)| *time);
    let full = full.map(|full| charged.filter(|_| held_full).map_or(full, |charged| charged.max(full)));
    let since = |time: UtcMs| now.seconds_since(time).max(0.0);
    Ok(Some(Latest {
        full_ago_s: full.map(since),
        taken_since_full_ah: taken_ah,
        rest_s: since(rest_began(&current, REST_RATE * bank.rated_capacity_ah).unwrap_or(now)),
        temperature_c: read(Channel::TEMPERATURE)?.last().map(|(_, celsius)| *celsius),
    }))
}

/// Where the rest at the end of a current began; `None` where there is none.
fn rest_began(current: &[(UtcMs, f64)], most_a: f64) -> Option<UtcMs> {
    let resting = current.iter().rev().take_while(|(_, amps)| amps.abs() <= most_a);
    resting.last().map(|(time, _)| *time)
}
