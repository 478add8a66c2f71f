//! Look-ups that the writer and the readers share.

use rusqlite::{Connection, OptionalExtension, params};

use super::block::POWER;
use super::record::{Anchor, Checkpoint, SeriesId, StoredAnchor};
use crate::quantity::{BootNo, ClockFix, Moment, MonoMs, Timeline, UtcMs};

/// The derived channel.
pub(super) const POWER_NAME: &str = "power_w";

/// Names of the stored channels by position.
pub(super) fn stored_channels(connection: &Connection, id: SeriesId) -> rusqlite::Result<Vec<String>> {
    connection
        .prepare_cached("SELECT name FROM channel WHERE series = ?1 AND position < ?2 ORDER BY position")?
        .query_map(params![id.0, POWER], |row| row.get(0))?
        .collect()
}

/// Adds a channel; the derived one may be there already.
pub(super) fn add_channel(tx: &Connection, id: SeriesId, position: i64, name: &str) -> rusqlite::Result<()> {
    tx.prepare_cached("INSERT INTO channel (series, position, name) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING")?
        .execute(params![id.0, position, name])?;
    Ok(())
}

pub(super) fn load_checkpoint(connection: &Connection, bank: &str) -> rusqlite::Result<Option<Checkpoint>> {
    connection
        .prepare_cached("SELECT boot, mono_ms, version, state FROM checkpoint WHERE bank = ?1")?
        .query_row([bank], |row| {
            Ok(Checkpoint {
                bank: bank.to_owned(),
                at: moment(row.get(0)?, row.get(1)?),
                version: row.get(2)?,
                state: row.get(3)?,
            })
        })
        .optional()
}

pub(super) fn load_anchors(connection: &Connection, bank: &str) -> rusqlite::Result<Vec<StoredAnchor>> {
    connection
        .prepare_cached(
            "SELECT id, side, boot, mono_ms, fix, version, state FROM anchor WHERE bank = ?1 ORDER BY side, id",
        )?
        .query_map([bank], |row| {
            let anchor = Anchor {
                bank: bank.to_owned(),
                side: row.get::<_, Option<u32>>(1)?.map(BootNo),
                at: moment(row.get(2)?, row.get(3)?),
                fix: row.get(4)?,
                version: row.get(5)?,
                state: row.get(6)?,
            };
            Ok(StoredAnchor { id: row.get(0)?, anchor })
        })?
        .collect()
}

pub(super) fn load_timeline(connection: &Connection) -> rusqlite::Result<Timeline> {
    let mut select = connection.prepare_cached("SELECT boot, mono_ms, utc_ms, trust FROM clock_fix ORDER BY id")?;
    let fixes = select.query_map([], |row| {
        Ok((BootNo(row.get(0)?), ClockFix { mono: MonoMs(row.get(1)?), utc: UtcMs(row.get(2)?), rank: row.get(3)? }))
    })?;
    Ok(Timeline::new(fixes.collect::<rusqlite::Result<Vec<_>>>()?))
}

/// A reading of the wall clock, as noted.
#[derive(Debug, Clone)]
pub(super) struct NotedClock {
    pub(super) mono: MonoMs,
    pub(super) utc: UtcMs,
    pub(super) rank: u8,
    pub(super) kind: String,
}

impl NotedClock {
    pub(super) fn write(&self, tx: &Connection, boot: BootNo) -> rusqlite::Result<()> {
        tx.prepare_cached("INSERT INTO clock_fix (boot, mono_ms, utc_ms, trust, kind) VALUES (?1, ?2, ?3, ?4, ?5)")?
            .execute(params![boot.0, self.mono.0, self.utc.0, self.rank, self.kind])?;
        Ok(())
    }
}

/// The latest `most` clock fixes of a boot, in the order in which they were noted.
pub(super) fn latest_clock_fixes(
    connection: &Connection,
    boot: BootNo,
    most: usize,
) -> rusqlite::Result<Vec<NotedClock>> {
    let mut select = connection.prepare_cached(
        "SELECT mono_ms, utc_ms, trust, kind FROM clock_fix WHERE boot = ?1 ORDER BY id DESC LIMIT ?2",
    )?;
    let fixes = select.query_map(params![boot.0, most as i64], |row| {
        Ok(NotedClock { mono: MonoMs(row.get(0)?), utc: UtcMs(row.get(1)?), rank: row.get(2)?, kind: row.get(3)? })
    })?;
    let mut fixes: Vec<NotedClock> = fixes.collect::<rusqlite::Result<_>>()?;
    fixes.reverse();
    Ok(fixes)
}

/// The mark of the last commit.
pub(super) fn mark(connection: &Connection) -> rusqlite::Result<i64> {
    connection.prepare_cached("SELECT mark FROM slate_mark")?.query_row([], |row| row.get(0))
}

/// Whether a note on the slate that carries this mark follows the last commit, or the one before it: that is what a
/// writer notes whose last commit was refused and reached the card all the same. Notes of others are in the store already.
pub(super) fn is_followed_by(connection: &Connection, noted: i64) -> rusqlite::Result<bool> {
    connection.prepare_cached("SELECT ?1 IN (mark, before) FROM slate_mark")?.query_row([noted], |row| row.get(0))
}

/// The last moment in each boot: of one series, or of all series in live boots.
pub(super) fn last_moments(connection: &Connection, series: Option<SeriesId>) -> rusqlite::Result<Vec<Moment>> {
    let mut last: Vec<Moment> = connection
        .prepare_cached(
            "SELECT span.boot, max(last_mono_ms) FROM span JOIN boot ON boot.no = span.boot
             WHERE (?1 IS NULL AND boot.kind = 'live') OR series = ?1 GROUP BY span.boot",
        )?
        .query_map([series.map(|id| id.0)], |row| Ok(moment(row.get(0)?, row.get(1)?)))?
        .collect::<rusqlite::Result<_>>()?;
    let mut tails = connection.prepare_cached(
        "SELECT tail.boot, tail.first_mono_ms, tail.data FROM every_tail tail JOIN boot ON boot.no = tail.boot
         WHERE (?1 IS NULL AND boot.kind = 'live') OR series = ?1",
    )?;
    let mut rows = tails.query([series.map(|id| id.0)])?;
    while let Some(row) = rows.next()? {
        let first = moment(row.get(0)?, row.get(1)?);
        // A row that does not decode still tells where it begins.
        let data = row.get_ref(2)?.as_blob()?;
        let mono = super::codec::decode(data, |_| false)
            .ok()
            .and_then(|columns| columns.time_ms.last().copied())
            .map_or(first.mono, MonoMs);
        last.push(Moment { mono, ..first });
    }
    last.sort();
    last.reverse();
    last.dedup_by_key(|at| at.boot);
    Ok(last)
}

pub(super) fn moment(boot: u32, mono_ms: i64) -> Moment {
    Moment { boot: BootNo(boot), mono: MonoMs(mono_ms) }
}
