//! Events, with repeats counted instead of told again.

use std::collections::HashMap;

use rusqlite::{Connection, params};

use crate::quantity::Moment;
use crate::store::record::EventRecord;
use crate::store::summary::HOUR_MS;

type Key = (Option<String>, Option<String>, String);

/// An event and its row in the store.
pub(super) type EventRow = (Key, i64);

#[derive(Debug)]
struct Noted {
    /// Row in the store, once committed.
    id: Option<i64>,
    event: EventRecord,
    first: Moment,
    count: i64,
    /// Not yet committed as it is now.
    dirty: bool,
}

/// Events of this run: the latest of each kind, and those before it that still wait for a commit.
#[derive(Debug, Default)]
pub(super) struct Events {
    latest: HashMap<Key, Noted>,
    before: Vec<Noted>,
}

impl Events {
    /// Takes an event; tells how many were lost because `most` wait already.
    pub(super) fn take(&mut self, event: EventRecord, most: usize) -> u64 {
        let key = (event.bank.clone(), event.device.clone(), event.kind.clone());
        if let Some(noted) = self.latest.get_mut(&key)
            && noted.event.at.boot == event.at.boot
            && event.at.mono - noted.event.at.mono <= HOUR_MS
        {
            noted.count += 1;
            noted.event = event;
            noted.dirty = true;
            return 0;
        }
        let noted = Noted { id: None, first: event.at, event, count: 1, dirty: true };
        if let Some(old) = self.latest.insert(key, noted).filter(|old| old.dirty) {
            self.before.push(old);
        }
        let over = self.before.len() > most;
        if over {
            self.before.remove(0);
        }
        u64::from(over)
    }

    pub(super) fn is_clean(&self) -> bool {
        self.before.is_empty() && self.latest.values().all(|noted| !noted.dirty)
    }

    /// True if the store has each event already, be it with an earlier count.
    pub(super) fn all_known(&self) -> bool {
        self.before.is_empty() && self.latest.values().all(|noted| noted.id.is_some())
    }

    /// Writes what is not yet committed; gives the rows of the latest ones, for [`Events::settle`].
    pub(super) fn write(&self, tx: &Connection) -> rusqlite::Result<Vec<EventRow>> {
        for noted in &self.before {
            write(tx, noted)?;
        }
        let dirty = self.latest.iter().filter(|(_, noted)| noted.dirty);
        dirty.map(|(key, noted)| Ok((key.clone(), write(tx, noted)?))).collect()
    }

    /// The rows are in a file that is no more.
    pub(super) fn forget_rows(&mut self) {
        self.latest.values_mut().for_each(|noted| noted.id = None);
    }

    /// After the commit.
    pub(super) fn settle(&mut self, rows: Vec<EventRow>) {
        self.before.clear();
        for (key, id) in rows {
            if let Some(noted) = self.latest.get_mut(&key) {
                noted.id = Some(id);
                noted.dirty = false;
            }
        }
    }
}

fn write(tx: &Connection, noted: &Noted) -> rusqlite::Result<i64> {
    let event = &noted.event;
    if let Some(id) = noted.id {
        tx.prepare_cached("UPDATE event SET last_mono_ms = ?2, priority = ?3, text = ?4, count = ?5 WHERE id = ?1")?
            .execute(params![id, event.at.mono.0, event.priority, event.text, noted.count])?;
        return Ok(id);
    }
    tx.prepare_cached(
        "INSERT INTO event (boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
    )?
    .insert(params![
        event.at.boot.0,
        noted.first.mono.0,
        event.at.mono.0,
        event.bank,
        event.device,
        event.kind,
        event.priority,
        event.text,
        noted.count,
    ])
}
