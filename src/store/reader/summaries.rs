//! Hours and days for a history: from packed blocks, and from rows where there is no block.

use rusqlite::params;

use super::Reader;
use super::history::Filling;
use super::scan::Piece;
use super::skipped::is_damage;
use crate::store::error::Result;
use crate::store::summary::{DAY_MS, block_ms, start_of};

/// Where the middle lies of what a row can hold: a boot's first and last rows are not full.
#[derive(Debug, Clone, Copy)]
pub(super) struct Middle {
    pub(super) span_ms: i64,
    pub(super) first_ms: i64,
    pub(super) last_ms: i64,
}

impl Middle {
    /// Of the row that begins at `start_ms`.
    pub(super) fn of(self, start_ms: i64) -> i64 {
        let to = (start_ms + self.span_ms).min(self.last_ms + 1);
        start_ms.max(self.first_ms).midpoint(to)
    }
}

impl Reader {
    /// Adds the hours or the days of a piece, whichever `span_ms` is.
    pub(super) fn add_summaries(&self, filling: &mut Filling, piece: &Piece, span_ms: i64) -> Result<()> {
        let Some((first_ms, last_ms)) = piece.extent.folded else {
            return Ok(());
        };
        let middle = Middle { span_ms, first_ms, last_ms };
        let err = self.err("read its packed summaries");
        let (id, range) = (filling.id, piece.range);
        let mut select = self
            .connection
            .prepare_cached(
                "SELECT start_mono_ms, data FROM summary_block
                 WHERE series = ?1 AND span_ms = ?2 AND boot = ?3 AND start_mono_ms > ?4 AND start_mono_ms < ?5",
            )
            .map_err(&err)?;
        let before = range.from.0.saturating_sub(block_ms(span_ms));
        let mut rows = select.query(params![id.0, span_ms, range.boot.0, before, range.to.0]).map_err(&err)?;
        let mut done_ms = start_of(range.from.0.max(first_ms), span_ms).saturating_sub(1);
        loop {
            let row = match rows.next().map_err(&err) {
                Ok(Some(row)) => row,
                Ok(None) => break,
                // Blocks only repeat what rows say.
                Err(error) if is_damage(&error) => break,
                Err(error) => return Err(error),
            };
            let start_ms: i64 = row.get(0).map_err(&err)?;
            let data = row.get_ref(1).map_err(&err)?;
            let data = data.as_blob().map_err(|error| err(error.into()))?;
            self.add_rows_of(filling, piece, middle, (done_ms, start_ms))?;
            // The next row may begin just where the block ends.
            let end_ms = start_ms + block_ms(span_ms) - 1;
            if filling.packed(data, piece, middle).is_err() {
                self.add_rows_of(filling, piece, middle, (done_ms.max(start_ms - 1), end_ms + 1))?;
            }
            done_ms = end_ms;
        }
        drop(rows);
        self.add_rows_of(filling, piece, middle, (done_ms, range.to.0.min(last_ms + 1)))
    }

    /// Adds the rows that begin after the first and before the second time.
    fn add_rows_of(
        &self,
        filling: &mut Filling,
        piece: &Piece,
        middle: Middle,
        (after, before): (i64, i64),
    ) -> Result<()> {
        if before - after < 2 {
            return Ok(());
        }
        let err = self.err("read its summaries");
        let sql = if middle.span_ms == DAY_MS { DAYS } else { HOURS };
        let mut select = self.connection.prepare_cached(sql).map_err(&err)?;
        for (cells, wanted) in filling.selection.wanted.iter().enumerate() {
            let keys = params![filling.id.0, wanted.channel, piece.range.boot.0, after, before];
            let mut rows = select.query(keys).map_err(&err)?;
            while let Some(row) = rows.next().map_err(&err)? {
                let read = || -> rusqlite::Result<(i64, [f64; 4])> {
                    let count: i64 = row.get(1)?;
                    Ok((row.get(0)?, [count as f64, row.get(2)?, row.get(3)?, row.get(4)?]))
                };
                let (start_ms, [count, min, max, mean]) = read().map_err(&err)?;
                if let Some(place) = filling.bins.place(piece, middle.of(start_ms)) {
                    filling.bins.cells[cells][place].add(count, min, max, mean);
                }
            }
        }
        Ok(())
    }
}

const HOURS: &str = "SELECT start_mono_ms, count, min, max, mean FROM hour_summary
    WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms > ?4 AND start_mono_ms < ?5";
const DAYS: &str = "SELECT start_mono_ms, count, min, max, mean FROM day_summary
    WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms > ?4 AND start_mono_ms < ?5";
