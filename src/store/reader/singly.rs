//! One row at a time, so that pages which SQLite cannot read cost no more than the rows in them.

use rusqlite::{OptionalExtension, params};

use super::Reader;
use super::skipped::{Place, is_damage};
use crate::quantity::BootNo;
use crate::store::error::Result;
use crate::store::record::SeriesId;
use crate::store::unreadable::Source;

/// A chunk by its number, and where it lies.
pub(super) type Row = (i64, Place);

impl Reader {
    /// The rows of the chunks that begin in `from_ms..to_ms`, or reach into it unless `strictly`, each given to `visit`.
    pub(super) fn each_chunk_singly(
        &self,
        id: SeriesId,
        boot: BootNo,
        (from_ms, to_ms): (i64, i64),
        strictly: bool,
        visit: &mut impl FnMut(Row) -> Result<()>,
    ) -> Result<()> {
        let list = || -> rusqlite::Result<Vec<(i64, i64)>> {
            // The index alone answers this.
            self.connection
                .prepare_cached(
                    "SELECT id, first_mono_ms FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms < ?4
                        AND first_mono_ms >= CASE WHEN ?5 THEN ?3 ELSE coalesce((SELECT max(first_mono_ms) FROM chunk
                            WHERE series = ?1 AND boot = ?2 AND first_mono_ms <= ?3), ?3) END
                     ORDER BY first_mono_ms",
                )?
                .query_map(params![id.0, boot.0, from_ms, to_ms, strictly], |row| Ok((row.get(0)?, row.get(1)?)))?
                .collect()
        };
        let rows = list().map_err(self.err("list its chunks"))?;
        for (place, &(chunk, first_ms)) in rows.iter().enumerate() {
            // Its own last moment lies in the row; until the next one begins is never too short.
            let last_ms = rows.get(place + 1).map_or(first_ms, |(_, next)| next - 1);
            visit((chunk, Place { series: id, boot, first_ms, last_ms }))?;
        }
        Ok(())
    }

    /// The packed samples of a chunk; `None`, and noted, if its pages are damaged.
    pub(super) fn samples_of(&self, (chunk, place): Row) -> Result<Option<Vec<u8>>> {
        self.blob("SELECT data FROM chunk WHERE id = ?1", params![chunk], (Source::Chunk, place))
    }

    /// The packed minutes of a chunk, if it has any; `None`, and noted, if their pages are damaged.
    pub(super) fn minutes_of(&self, (chunk, place): Row) -> Result<Option<Vec<u8>>> {
        self.blob("SELECT data FROM minute_chunk WHERE id = ?1", params![chunk], (Source::MinuteChunk, place))
    }

    /// The packed samples of a row of the tail; `None`, and noted, if its pages are damaged.
    pub(super) fn tail_of(&self, place: Place) -> Result<Option<Vec<u8>>> {
        let sql = "SELECT data FROM every_tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3";
        self.blob(sql, params![place.series.0, place.boot.0, place.first_ms], (Source::Tail, place))
    }

    /// Until when a row of the tail may reach: just before the next one, or its own first moment if it is the last.
    pub(super) fn tail_end(&self, id: SeriesId, boot: BootNo, first_ms: i64) -> Result<i64> {
        let next: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT min(first_mono_ms) FROM every_tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms > ?3",
            )
            .and_then(|mut select| select.query_row(params![id.0, boot.0, first_ms], |row| row.get(0)))
            .map_err(self.err("read the open tail"))?;
        Ok(next.map_or(first_ms, |next| next - 1))
    }

    /// The last moment of a chunk; the earliest there is if its row cannot be read.
    pub(super) fn chunk_end(&self, chunk: i64) -> Result<i64> {
        let read = || {
            let mut select = self.connection.prepare_cached("SELECT last_mono_ms FROM chunk WHERE id = ?1")?;
            select.query_row([chunk], |row| row.get(0))
        };
        match read().map_err(self.err("read a chunk")) {
            Err(error) if is_damage(&error) => Ok(i64::MIN),
            other => other,
        }
    }

    fn blob(
        &self,
        sql: &'static str,
        keys: impl rusqlite::Params,
        (source, place): (Source, Place),
    ) -> Result<Option<Vec<u8>>> {
        let read = || self.connection.prepare_cached(sql)?.query_row(keys, |row| row.get(0)).optional();
        match read().map_err(self.err("read a chunk")) {
            Err(error) if is_damage(&error) => {
                self.skip_pages(source, place);
                Ok(None)
            }
            other => other,
        }
    }
}
