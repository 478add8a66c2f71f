//! Rows of the summaries packed into blocks, for charts over months and years.
//!
//! A block is what its rows are, or it is not there: a stretch that adds to rows drops the blocks that hold them.

use std::collections::BTreeMap;

use rusqlite::{Connection, OptionalExtension, params};

use crate::quantity::BootNo;
use crate::store::block::{Closed, MINUTE_COLUMNS, slot};
use crate::store::codec;
use crate::store::record::SeriesId;
use crate::store::summary::{DAY_MS, HOUR_MS, block_ms, start_of};

const HOURS: &str = "SELECT channel, start_mono_ms, count, min, max, mean FROM hour_summary
    WHERE series = ?1 AND channel IN (SELECT position FROM channel WHERE series = ?1) AND boot = ?2
        AND start_mono_ms >= ?3 AND start_mono_ms < ?4";
const DAYS: &str = "SELECT channel, start_mono_ms, count, min, max, mean FROM day_summary
    WHERE series = ?1 AND channel IN (SELECT position FROM channel WHERE series = ?1) AND boot = ?2
        AND start_mono_ms >= ?3 AND start_mono_ms < ?4";

const SPANS: [(i64, &str); 2] = [(HOUR_MS, HOURS), (DAY_MS, DAYS)];

/// After a stretch was folded: drops the blocks that it has made stale, and packs the one that it has completed.
pub(super) fn follow(tx: &Connection, id: SeriesId, boot: BootNo, closed: &Closed) -> rusqlite::Result<()> {
    for (span_ms, rows) in SPANS {
        let length_ms = block_ms(span_ms);
        let (first, last) = (start_of(closed.first_ms, length_ms), start_of(closed.last_ms, length_ms));
        tx.prepare_cached(
            "DELETE FROM summary_block
             WHERE series = ?1 AND span_ms = ?2 AND boot = ?3 AND start_mono_ms BETWEEN ?4 AND ?5",
        )?
        .execute(params![id.0, span_ms, boot.0, first, last])?;
        pack_last_before(tx, (id, boot), (span_ms, rows), last)?;
    }
    Ok(())
}

/// Before the first stretch of a boot is folded: packs what the boot before it has left.
pub(super) fn finish_boot_before(tx: &Connection, id: SeriesId, boot: BootNo) -> rusqlite::Result<()> {
    let before: (Option<u32>, bool) = tx
        .prepare_cached(
            "SELECT (SELECT max(boot) FROM span WHERE series = ?1 AND boot < ?2),
                EXISTS (SELECT 1 FROM span WHERE series = ?1 AND boot = ?2)",
        )?
        .query_row(params![id.0, boot.0], |row| Ok((row.get(0)?, row.get(1)?)))?;
    if let (Some(before), false) = before {
        for span in SPANS {
            pack_last_before(tx, (id, BootNo(before)), span, i64::MAX)?;
        }
    }
    Ok(())
}

/// Packs all that is over in a store that has no blocks yet. A boot that is the last of its series may go on.
pub(in crate::store) fn pack_all(tx: &Connection) -> rusqlite::Result<()> {
    let spans: Vec<(SeriesId, BootNo, i64, i64)> = tx
        .prepare("SELECT series, boot, first_mono_ms, last_mono_ms FROM span ORDER BY series, boot")?
        .query_map([], |row| Ok((SeriesId(row.get(0)?), BootNo(row.get(1)?), row.get(2)?, row.get(3)?)))?
        .collect::<rusqlite::Result<_>>()?;
    for (place, &(id, boot, first_ms, last_ms)) in spans.iter().enumerate() {
        let goes_on = spans.get(place + 1).is_none_or(|(next, ..)| *next != id);
        for (span_ms, rows) in SPANS {
            let length_ms = block_ms(span_ms);
            let last = start_of(last_ms, length_ms) - if goes_on { length_ms } else { 0 };
            let mut start_ms = start_of(first_ms, length_ms);
            while start_ms <= last {
                pack(tx, (id, boot), (span_ms, rows), start_ms)?;
                start_ms += length_ms;
            }
        }
    }
    Ok(())
}

/// Packs the block that holds the last rows before a time, unless it is there.
fn pack_last_before(
    tx: &Connection,
    (id, boot): (SeriesId, BootNo),
    (span_ms, rows): (i64, &'static str),
    before_ms: i64,
) -> rusqlite::Result<()> {
    let last: Option<i64> = tx
        .prepare_cached(
            "SELECT last_mono_ms FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms < ?3
             ORDER BY first_mono_ms DESC LIMIT 1",
        )?
        .query_row(params![id.0, boot.0, before_ms], |row| row.get(0))
        .optional()?;
    let Some(last_ms) = last else { return Ok(()) };
    let start_ms = start_of(last_ms.min(before_ms - 1), block_ms(span_ms));
    let there = tx
        .prepare_cached(
            "SELECT 1 FROM summary_block WHERE series = ?1 AND span_ms = ?2 AND boot = ?3 AND start_mono_ms = ?4",
        )?
        .exists(params![id.0, span_ms, boot.0, start_ms])?;
    if there {
        return Ok(());
    }
    pack(tx, (id, boot), (span_ms, rows), start_ms)
}

fn pack(
    tx: &Connection,
    (id, boot): (SeriesId, BootNo),
    (span_ms, rows): (i64, &'static str),
    start_ms: i64,
) -> rusqlite::Result<()> {
    if let Some(data) = packed(tx, (id, boot), rows, (start_ms, start_ms + block_ms(span_ms)))? {
        tx.prepare_cached(
            "INSERT INTO summary_block (series, span_ms, boot, start_mono_ms, data) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?
        .execute(params![id.0, span_ms, boot.0, start_ms, data])?;
    }
    Ok(())
}

/// [`MINUTE_COLUMNS`] a channel, by [`slot`], as in the minute summaries, but exact; `None` if there are no rows.
fn packed(
    tx: &Connection,
    (id, boot): (SeriesId, BootNo),
    rows: &'static str,
    (from_ms, to_ms): (i64, i64),
) -> rusqlite::Result<Option<Vec<u8>>> {
    let mut select = tx.prepare_cached(rows)?;
    let mut found = select.query(params![id.0, boot.0, from_ms, to_ms])?;
    let mut summaries: BTreeMap<i64, Vec<(usize, [f64; MINUTE_COLUMNS])>> = BTreeMap::new();
    while let Some(row) = found.next()? {
        let count: i64 = row.get(2)?;
        let values = [count as f64, row.get(3)?, row.get(4)?, row.get(5)?];
        summaries.entry(row.get(1)?).or_default().push((slot(row.get(0)?), values));
    }
    let slots = summaries.values().flatten().map(|(slot, _)| slot + 1).max();
    let Some(slots) = slots else { return Ok(None) };
    let mut columns = vec![vec![f64::NAN; summaries.len()]; slots * MINUTE_COLUMNS];
    for (row, of_channels) in summaries.values().enumerate() {
        for (slot, values) in of_channels {
            for (column, value) in values.iter().enumerate() {
                columns[slot * MINUTE_COLUMNS + column][row] = *value;
            }
        }
    }
    let starts: Vec<i64> = summaries.into_keys().collect();
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    Ok(Some(codec::encode(&starts, &slices)))
}
