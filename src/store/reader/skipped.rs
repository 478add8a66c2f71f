//! What a reader left out because it cannot be read.
//!
//! An answer goes on over a row that does not decode and notes it here; whoever asked takes the notes afterwards. A row
//! that was set aside is noted like one that still lies where it was: for the answer it is the same hole.

use rusqlite::{OptionalExtension, Row, params};

use super::Reader;
use crate::quantity::{BootNo, MonoRange};
use crate::store::common::moment;
use crate::store::error::{Error, Result};
use crate::store::record::SeriesId;
use crate::store::unreadable::{Source, Unreadable};

/// Most stretches that one reader names between two looks: a list that nobody would read to its end.
const MOST_NAMED: usize = 1000;

/// What is said of a row whose pages SQLite itself cannot read.
const BROKEN_PAGES: &str = "the pages that it lies in are damaged";

/// A row of a chunk or of the tail.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) series: SeriesId,
    pub(super) boot: BootNo,
    pub(super) first_ms: i64,
    pub(super) last_ms: i64,
}

impl Reader {
    /// What the answers since the last call left out because it cannot be read, each row once, in the order of boot and
    /// time; minute summaries that were made up for from samples are among them.
    pub fn take_unreadable(&self) -> Vec<Unreadable> {
        let mut found = self.skipped.take();
        found.sort_by_key(|one| (one.boot, one.first_ms, one.series));
        found
    }

    /// Notes a row that does not decode. An empty one was set aside; then its cause is that of the time.
    pub(super) fn skip(&self, source: Source, place: Place, data: &[u8], cause: String) {
        let aside = data.is_empty() && source == Source::Chunk;
        let told = aside.then(|| self.cause_of(place)).flatten();
        self.note(source, place, told.unwrap_or(cause), aside);
    }

    /// Notes a row whose pages cannot be read.
    pub(super) fn skip_pages(&self, source: Source, place: Place) {
        self.note(source, place, BROKEN_PAGES.to_owned(), false);
    }

    fn note(&self, source: Source, place: Place, cause: String, aside: bool) {
        let Place { series, boot, first_ms, last_ms } = place;
        let timeline = self.timeline().ok();
        let utc = |ms| timeline.as_ref()?.utc(moment(boot.0, ms)).map(|placed| placed.utc);
        let utc = utc(first_ms).zip(utc(last_ms));
        let one = Unreadable { source, series, boot, first_ms, last_ms, utc, cause, aside };
        let mut skipped = self.skipped.borrow_mut();
        if skipped.len() < MOST_NAMED && !skipped.iter().any(|known| known.is_same_row(&one)) {
            skipped.push(one);
        }
    }

    /// Notes the rows of the tail that were set aside and lie in `ranges`: no chunk and no summary has their samples.
    pub(super) fn note_set_aside(&self, id: SeriesId, ranges: &[MonoRange]) -> Result<()> {
        if !self.sets_aside {
            return Ok(());
        }
        let read = || -> rusqlite::Result<Vec<(Place, String)>> {
            self.connection
                .prepare_cached(
                    "SELECT boot, first_mono_ms, coalesce(last_mono_ms, first_mono_ms), cause FROM set_aside
                     WHERE source = 'tail' AND series = ?1 ORDER BY boot, first_mono_ms",
                )?
                .query_map([id.0], |row| Ok((place_of(id, row)?, row.get(3)?)))?
                .collect()
        };
        for (place, cause) in read().map_err(self.err("read what was set aside"))? {
            let inside = |range: &MonoRange| {
                range.boot == place.boot && place.first_ms < range.to.0 && place.last_ms >= range.from.0
            };
            if ranges.iter().any(inside) {
                self.note(Source::Tail, place, cause, true);
            }
        }
        Ok(())
    }

    fn cause_of(&self, place: Place) -> Option<String> {
        let select = self.connection.prepare_cached(
            "SELECT cause FROM set_aside WHERE source = 'chunk' AND series = ?1 AND boot = ?2 AND first_mono_ms = ?3",
        );
        let keys = params![place.series.0, place.boot.0, place.first_ms];
        select.ok()?.query_row(keys, |row| row.get(0)).optional().ok()?
    }
}

fn place_of(series: SeriesId, row: &Row<'_>) -> rusqlite::Result<Place> {
    Ok(Place { series, boot: BootNo(row.get(0)?), first_ms: row.get(1)?, last_ms: row.get(2)? })
}

/// True if SQLite says of itself that what it read is damaged.
pub(super) fn is_damage(error: &Error) -> bool {
    matches!(error, Error::Damaged { .. })
}
