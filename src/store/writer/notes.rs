//! Notes that people make on a span of a bank's record: events that are never counted together.

use rusqlite::params;

use super::Writer;
use crate::store::error::Result;
use crate::store::record::{NOTE_KIND, NoteRecord};

impl Writer {
    /// Writes a note at once; gives its number among the events. A span that reaches into another boot is noted at its
    /// begin.
    ///
    /// # Errors
    /// What SQLite reports. Nothing is changed then.
    pub fn note(&mut self, note: &NoteRecord) -> Result<i64> {
        self.commit()?;
        let NoteRecord { bank, from, to, text } = note;
        let last = if to.boot == from.boot { to.mono.max(from.mono) } else { from.mono };
        self.at_once("keep a note", |tx| -> rusqlite::Result<i64> {
            tx.prepare_cached(
                "INSERT INTO event (boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count)
                 VALUES (?1, ?2, ?3, ?4, NULL, ?5, 'note', ?6, 1)",
            )?
            .execute(params![from.boot.0, from.mono.0, last.0, bank, NOTE_KIND, text])?;
            Ok(tx.last_insert_rowid())
        })
    }
}
