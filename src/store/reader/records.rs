//! Fixes and events.

use rusqlite::{Row, params};

use super::Reader;
use crate::quantity::{Band, Timeline, UtcMs};
use crate::store::common::moment;
use crate::store::error::Result;
use crate::store::record::{BandedSoc, EventRecord, FixRecord, StoredEvent, StoredFix};

const EVENT: &str =
    "SELECT id, boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count FROM event";

impl Reader {
    /// The latest `limit` fixes of a bank between two times, the latest first.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn fixes(&self, bank: &str, from: UtcMs, to: UtcMs, limit: usize) -> Result<Vec<StoredFix>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredFix>> {
            self.connection
                .prepare_cached(
                    "SELECT id, boot, mono_ms, kind, soc_before, soc_before_low, soc_before_high,
                        soc_after, soc_after_low, soc_after_high, text, bank
                     FROM fix WHERE bank = ?1 ORDER BY boot, mono_ms",
                )?
                .query_map([bank], |row| fix_of(row, &timeline))?
                .collect()
        };
        let mut fixes = read().map_err(self.err("read its fixes"))?;
        fixes.retain(|fix| fix.utc.is_some_and(|utc| from <= utc && utc < to));
        fixes.sort_by_key(|fix| std::cmp::Reverse((fix.utc, fix.id)));
        fixes.truncate(limit);
        Ok(fixes)
    }

    /// The latest `limit` events that were seen between two times, the latest first; of all banks if none is named.
    /// Events that concern no bank are always among them.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn events(&self, bank: Option<&str>, from: UtcMs, to: UtcMs, limit: usize) -> Result<Vec<StoredEvent>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredEvent>> {
            self.connection
                .prepare_cached(&format!("{EVENT} WHERE ?1 IS NULL OR bank IS NULL OR bank = ?1"))?
                .query_map([bank], |row| event_of(row, &timeline))?
                .collect()
        };
        let mut events = read().map_err(self.err("read its events"))?;
        events.retain(|event| {
            event.first_utc.is_some_and(|utc| utc < to) && event.last_utc.is_some_and(|utc| from <= utc)
        });
        events.sort_by_key(|event| std::cmp::Reverse((event.last_utc, event.id)));
        events.truncate(limit);
        Ok(events)
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

fn fix_of(row: &Row<'_>, timeline: &Timeline) -> rusqlite::Result<StoredFix> {
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
