//! Hours and days as stored, against what the samples give.

use std::collections::BTreeMap;

use rusqlite::{Row, params};

use super::{Place, Proof, RESTORE, Stretch};
use crate::quantity::Unit;
use crate::store::block::POWER;
use crate::store::summary::{DAY_MS, HOUR_MS, Summary, coarser, start_of};

/// Relative error that sums in another order may have.
const ROUNDING: f64 = 1e-9;

/// Hours that are gathered before they are compared.
const AT_ONCE: usize = 4096;

/// What the summaries of a series in a boot must say, as far as it is not compared yet.
pub(super) struct Expected {
    place: Place,
    hours: Table,
    days: Table,
}

struct Table {
    name: &'static str,
    span_ms: i64,
    sql: &'static str,
    /// By channel and start.
    rows: BTreeMap<(i64, i64), Made>,
    /// Compared up to here.
    from_ms: i64,
    /// Pieces that cannot be read.
    holes: Vec<(i64, i64)>,
}

#[derive(Clone, Copy)]
struct Made {
    summary: Summary,
    integrated: bool,
    /// False where the first interval begins in a piece that cannot be read.
    sure: bool,
}

macro_rules! rows_of {
    ($table:literal) => {
        concat!(
            "SELECT channel, start_mono_ms, count, covered_s, min, max, mean, positive, negative FROM ",
            $table,
            " WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms >= ?4 AND start_mono_ms < ?5
             ORDER BY start_mono_ms"
        )
    };
}

impl Expected {
    pub(super) fn new(place: Place) -> Expected {
        let table = |name, span_ms, sql| Table {
            name,
            span_ms,
            sql,
            rows: BTreeMap::new(),
            from_ms: i64::MIN,
            holes: Vec::new(),
        };
        Expected {
            place,
            hours: table("hour_summary", HOUR_MS, rows_of!("hour_summary")),
            days: table("day_summary", DAY_MS, rows_of!("day_summary")),
        }
    }

    /// Adds the minutes of one channel of a chunk. `unit` is `None` for the derived power; `sure` is false after a hole.
    pub(super) fn add(&mut self, channel: i64, minutes: &[(i64, Summary)], unit: Option<Unit>, sure: bool) {
        let integrated = channel == POWER || matches!(unit, Some(Unit::Ampere | Unit::Watt));
        let hours = coarser(minutes, HOUR_MS);
        let days = coarser(&hours, DAY_MS);
        for (table, rows) in [(&mut self.hours, hours), (&mut self.days, days)] {
            for (place, (start_ms, summary)) in rows.into_iter().enumerate() {
                let new = Made { summary: Summary::EMPTY, integrated, sure: true };
                let made = table.rows.entry((channel, start_ms)).or_insert(new);
                made.summary.merge(&summary);
                made.sure &= sure || place > 0;
            }
        }
    }

    pub(super) fn hole(&mut self, first_ms: i64, last_ms: i64) {
        self.hours.holes.push((first_ms, last_ms));
        self.days.holes.push((first_ms, last_ms));
    }
}

impl Proof<'_> {
    /// Compares what is gathered, if it is much, up to the hour or day that a chunk from `first_ms` on may still add to.
    pub(super) fn compare_before(&mut self, expected: &mut Expected, first_ms: i64) -> rusqlite::Result<()> {
        for table in [&mut expected.hours, &mut expected.days] {
            if table.rows.len() >= AT_ONCE {
                self.compare(expected.place, table, start_of(first_ms, table.span_ms))?;
            }
        }
        Ok(())
    }

    /// Compares all the rest.
    pub(super) fn compare_rest(&mut self, expected: &mut Expected) -> rusqlite::Result<()> {
        self.compare(expected.place, &mut expected.hours, i64::MAX)?;
        self.compare(expected.place, &mut expected.days, i64::MAX)
    }

    fn compare(&mut self, place: Place, table: &mut Table, to_ms: i64) -> rusqlite::Result<()> {
        let known = self.series.get(&place.0).map_or(0, |known| known.channels.len());
        let channels: Vec<i64> = (0..known as i64).chain([POWER]).collect();
        for channel in channels {
            let mut select = self.connection.prepare_cached(table.sql)?;
            let keys = params![place.0.0, channel, place.1.0, table.from_ms, to_ms];
            let mut rows = select.query(keys)?;
            while let Some(row) = rows.next()? {
                let start_ms: i64 = row.get(1)?;
                let made = table.rows.remove(&(channel, start_ms));
                let fault = if table.is_open(start_ms) {
                    self.verified.not_provable += 1;
                    None
                } else {
                    fault(row, made)?
                };
                if let Some(cause) = fault {
                    self.find_summary(place, table, (channel, start_ms), cause);
                }
            }
        }
        let done: Vec<(i64, i64)> = table.rows.keys().copied().filter(|(_, start_ms)| *start_ms < to_ms).collect();
        for key in done {
            table.rows.remove(&key);
            if !table.is_open(key.1) {
                self.find_summary(place, table, key, "there is none, and the samples give one".to_owned());
            }
        }
        table.from_ms = to_ms;
        let span_ms = table.span_ms;
        table.holes.retain(|(_, last_ms)| start_of(*last_ms, span_ms) >= to_ms);
        Ok(())
    }

    fn find_summary(&mut self, place: Place, table: &Table, (channel, start_ms): (i64, i64), cause: String) {
        let known = self.series.get(&place.0);
        let name = usize::try_from(channel).ok().and_then(|channel| known?.channels.get(channel).cloned());
        let name = name.unwrap_or_else(|| crate::store::common::POWER_NAME.to_owned());
        let stretch = Stretch { place, first_ms: start_ms, last_ms: start_ms + table.span_ms - 1 };
        self.find_at(table.name, stretch, format!("{name}: {cause}"), RESTORE);
    }
}

impl Table {
    /// True if a piece that cannot be read reaches into the row.
    fn is_open(&self, start_ms: i64) -> bool {
        let end_ms = start_ms.saturating_add(self.span_ms);
        self.holes.iter().any(|(first, last)| *first < end_ms && *last >= start_ms)
    }
}

/// What is wrong with a row.
fn fault(row: &Row<'_>, made: Option<Made>) -> rusqlite::Result<Option<String>> {
    let Some(Made { summary, integrated, sure }) = made else {
        return Ok(Some("it has no samples".to_owned()));
    };
    let count: i64 = row.get(2)?;
    let number = |column| row.get::<_, f64>(column);
    let exact = |column, made: f64| number(column).map(|stored| stored.to_bits() == (made + 0.0).to_bits());
    let size = summary.min.abs().max(summary.max.abs());
    let mut faults = Vec::new();
    if count != summary.count {
        faults.push(format!("it counts {count} samples, and there are {}", summary.count));
    }
    if !exact(4, summary.min)? || !exact(5, summary.max)? {
        faults.push("its extremes are not those of the samples".to_owned());
    }
    if !near(number(6)?, summary.mean(), size) {
        faults.push("its mean is not that of the samples".to_owned());
    }
    if sure && !near(number(3)?, summary.covered_s, 0.0) {
        faults.push("it covers another time than the samples".to_owned());
    }
    let (positive, negative): (Option<f64>, Option<f64>) = (row.get(7)?, row.get(8)?);
    let integrals = match (positive.zip(negative), integrated) {
        (None, false) => positive.is_none() && negative.is_none(),
        (Some((positive, negative)), true) => {
            let scale = size * summary.covered_s;
            !sure || near(positive, summary.positive, scale) && near(negative, summary.negative, scale)
        }
        _ => false,
    };
    if !integrals {
        faults.push("its integrals are not those of the samples".to_owned());
    }
    Ok((!faults.is_empty()).then(|| faults.join(", ")))
}

fn near(stored: f64, made: f64, scale: f64) -> bool {
    (stored - made).abs() <= ROUNDING * made.abs().max(scale)
}
