//! Fixes and events.

use rusqlite::{Row, params};

use super::Reader;
use crate::quantity::{Band, BandedSoc, Timeline, UtcMs};
use crate::store::common::moment;
use crate::store::error::Result;
use crate::store::record::{EventRecord, FixRecord, StoredEvent, StoredFix};

const EVENT: &str =
    "SELECT id, boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count FROM event";

pub(super) const FIX: &str = "SELECT id, boot, mono_ms, kind, soc_before, soc_before_low, soc_before_high,
    soc_after, soc_after_low, soc_after_high, text, bank FROM fix";

impl Reader {
    /// The latest `limit` fixes of a bank between two times, the latest first.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn fixes(&self, bank: &str, from: UtcMs, to: UtcMs, limit: usize) -> Result<Vec<StoredFix>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        // The index alone answers what lies where; rows are read of those that are wanted.
        let find = || -> rusqlite::Result<Vec<(UtcMs, i64)>> {
            let mut select = self.connection.prepare_cached("SELECT id, boot, mono_ms FROM fix WHERE bank = ?1")?;
            let mut rows = select.query([bank])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let placed = timeline.utc(moment(row.get(1)?, row.get(2)?));
                if let Some(utc) = placed.map(|placed| placed.utc).filter(|utc| from <= *utc && *utc < to) {
                    found.push((utc, row.get(0)?));
                }
            }
            Ok(latest(found, limit))
        };
        let read = || -> rusqlite::Result<Vec<StoredFix>> {
            let mut select = self.connection.prepare_cached(&format!("{FIX} WHERE id = ?1"))?;
            find()?.iter().map(|(_, id)| select.query_row([id], |row| fix_of(row, &timeline))).collect()
        };
        read().map_err(self.err("read its fixes"))
    }

    /// The latest `limit` events that were seen between two times, the latest first; of all banks if none is named.
    /// Events that concern no bank are always among them.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn events(&self, bank: Option<&str>, from: UtcMs, to: UtcMs, limit: usize) -> Result<Vec<StoredEvent>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        // As with fixes.
        let find = || -> rusqlite::Result<Vec<(UtcMs, i64)>> {
            let mut select = self.connection.prepare_cached(
                "SELECT id, boot, first_mono_ms, last_mono_ms FROM event
                 WHERE ?1 IS NULL OR bank IS NULL OR bank = ?1",
            )?;
            let mut rows = select.query([bank])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let boot = row.get(1)?;
                let utc = |mono_ms| timeline.utc(moment(boot, mono_ms)).map(|placed| placed.utc);
                let seen = utc(row.get(2)?).zip(utc(row.get(3)?));
                if let Some((_, last)) = seen.filter(|(first, last)| *first < to && from <= *last) {
                    found.push((last, row.get(0)?));
                }
            }
            Ok(latest(found, limit))
        };
        let read = || -> rusqlite::Result<Vec<StoredEvent>> {
            let mut select = self.connection.prepare_cached(&format!("{EVENT} WHERE id = ?1"))?;
            find()?.iter().map(|(_, id)| select.query_row([id], |row| event_of(row, &timeline))).collect()
        };
        read().map_err(self.err("read its events"))
    }

    /// The `limit` events that were first seen last, placed in time or not, the latest first.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn latest_events(&self, limit: usize) -> Result<Vec<StoredEvent>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredEvent>> {
            self.connection
                .prepare_cached(&format!("{EVENT} ORDER BY id DESC LIMIT ?1"))?
                .query_map(params![limit as i64], |row| event_of(row, &timeline))?
                .collect()
        };
        read().map_err(self.err("read its events"))
    }
}

/// Rows by number, the latest first, no more than `limit`.
fn latest(mut found: Vec<(UtcMs, i64)>, limit: usize) -> Vec<(UtcMs, i64)> {
    found.sort_unstable_by_key(|row| std::cmp::Reverse(*row));
    found.truncate(limit);
    found
}

pub(super) fn fix_of(row: &Row<'_>, timeline: &Timeline) -> rusqlite::Result<StoredFix> {
    let banded = |soc: usize| -> rusqlite::Result<Option<BandedSoc>> {
        let parts: [Option<f64>; 3] = [row.get(soc)?, row.get(soc + 1)?, row.get(soc + 2)?];
        Ok(match parts {
            [Some(soc), Some(low), Some(high)] => Some(BandedSoc { soc, band: Band { low, high } }),
            _ => None,
        })
    };
    let at = moment(row.get(1)?, row.get(2)?);
    Ok(StoredFix {
        id: row.get(0)?,
        utc: timeline.utc(at).map(|placed| placed.utc),
        fix: FixRecord {
            bank: row.get(11)?,
            at,
            kind: row.get(3)?,
            before: banded(4)?,
            after: banded(7)?.ok_or(rusqlite::Error::InvalidQuery)?,
            text: row.get(10)?,
        },
    })
}

fn event_of(row: &Row<'_>, timeline: &Timeline) -> rusqlite::Result<StoredEvent> {
    let first = moment(row.get(1)?, row.get(2)?);
    let at = moment(row.get(1)?, row.get(3)?);
    let utc = |at| timeline.utc(at).map(|placed| placed.utc);
    Ok(StoredEvent {
        id: row.get(0)?,
        first,
        first_utc: utc(first),
        last_utc: utc(at),
        event: EventRecord {
            at,
            bank: row.get(4)?,
            device: row.get(5)?,
            kind: row.get(6)?,
            priority: row.get(7)?,
            text: row.get(8)?,
        },
        count: row.get(9)?,
    })
}
