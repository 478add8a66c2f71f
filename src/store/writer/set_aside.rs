//! Rows that do not decode, taken out of the way: moved byte for byte into the table `set_aside`, and told.
//!
//! The row of a chunk stays, emptied: its minutes, its place and its count are still right. Minutes that are broken are
//! made anew from the samples. A row of the tail whose samples are still in memory is written anew from there.

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::Writer;
use super::found::{Found, Outcome, Piece};
use super::series::layout_of;
use crate::quantity::BootNo;
use crate::store::block::Block;
use crate::store::codec::{self, Columns};
use crate::store::common;
use crate::store::error::{Error, Result};
use crate::store::record::SeriesId;
use crate::store::unreadable::{Source, Unreadable};

/// A row that does not decode, as it lies in its table.
struct Broken {
    last_ms: Option<i64>,
    count: i64,
    data: Vec<u8>,
    cause: String,
}

impl Writer {
    /// Sets a row aside that a reader could not read, after another look at it; at once, in a transaction of its own. What
    /// was done is among [`Writer::take_found`]. Nothing is done to a row that can be read after all, or is not there.
    ///
    /// # Errors
    /// What SQLite reports; the row stays where it is then.
    pub fn set_aside(&mut self, row: &Unreadable) -> Result<()> {
        if self.damage.pages_told.contains(&(row.source, row.series, row.boot, row.first_ms)) {
            return Ok(());
        }
        let outcome = match self.move_aside(row) {
            Ok(None) => return Ok(()),
            Ok(Some(outcome)) => outcome,
            // The bytes cannot even be copied: the row is named, once, and left to whoever mends the file.
            Err(Error::Damaged { .. }) => {
                self.damage.pages_told.insert((row.source, row.series, row.boot, row.first_ms));
                Outcome::LeftThere
            }
            Err(error) => return Err(error),
        };
        let piece = self.piece_of(row, outcome);
        self.damage.found.push(Found::Piece(piece));
        Ok(())
    }

    /// Sets a row of the tail aside that was met when the store was opened. On a card that takes nothing it stays in the
    /// way until the next commit, which moves it.
    pub(super) fn set_tail_aside(&mut self, row: Unreadable) -> Result<()> {
        match self.set_aside(&row) {
            Err(error) if error.is_transient() => {
                self.pending.set_aside.push(row);
                Ok(())
            }
            other => other,
        }
    }

    fn move_aside(&mut self, row: &Unreadable) -> Result<Option<Outcome>> {
        let memory = self.remembered(row);
        let err = |e| Error::sqlite(&self.path, "set a damaged piece aside", e);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        let outcome = move_row(&tx, row, memory.as_deref()).map_err(err)?;
        tx.commit().map_err(err)?;
        Ok(outcome)
    }

    /// The samples of a row of the tail, packed, if the open block still has them.
    fn remembered(&self, row: &Unreadable) -> Option<Vec<u8>> {
        let state = self.series.get(&row.series).filter(|state| state.boot == Some(row.boot))?;
        let written = state.block.columns.time_ms.get(..state.block.written)?;
        let begin = written.binary_search(&row.first_ms).ok().filter(|_| row.source == Source::Tail)?;
        let next: Option<i64> = self
            .connection
            .prepare_cached(
                "SELECT min(first_mono_ms) FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms > ?3",
            )
            .and_then(|mut select| select.query_row(params![row.series.0, row.boot.0, row.first_ms], |r| r.get(0)))
            .ok()?;
        let end = next.map_or(written.len(), |next| written.partition_point(|time_ms| *time_ms < next));
        let channels: Vec<&[f64]> = state.block.columns.channels.iter().map(|values| &values[begin..end]).collect();
        Some(codec::encode(&written[begin..end], &channels))
    }

    fn piece_of(&self, row: &Unreadable, outcome: Outcome) -> Piece {
        let known =
            self.connection.query_row("SELECT bank, name, kind FROM series WHERE id = ?1", [row.series.0], |r| {
                Ok((r.get(0)?, r.get(1)?, r.get::<_, String>(2)? == "device"))
            });
        let (bank, series, is_device) = known.unwrap_or_else(|_| (String::new(), format!("{}", row.series.0), false));
        let timeline = self.timeline().ok();
        let utc = |ms| timeline.as_ref()?.utc(common::moment(row.boot.0, ms)).map(|placed| placed.utc);
        let row = Unreadable { utc: utc(row.first_ms).zip(utc(row.last_ms)), ..row.clone() };
        Piece { row, bank, series, is_device, outcome }
    }
}

/// Looks again, and moves the row if it does not decode. `memory` has what it should hold, if that is known.
pub(super) fn move_row(tx: &Connection, row: &Unreadable, memory: Option<&[u8]>) -> rusqlite::Result<Option<Outcome>> {
    let keys = params![row.series.0, row.boot.0, row.first_ms];
    let Some(broken) = look_again(tx, row)? else { return Ok(None) };
    if let Some(data) = memory {
        tx.execute(
            "UPDATE tail SET data = ?4 WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3",
            params![row.series.0, row.boot.0, row.first_ms, data],
        )?;
        return Ok(Some(Outcome::WrittenAnew));
    }
    tx.execute(
        "INSERT INTO set_aside (source, series, boot, first_mono_ms, last_mono_ms, count, cause, data)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
        params![
            row.source.table(),
            row.series.0,
            row.boot.0,
            row.first_ms,
            broken.last_ms,
            broken.count,
            broken.cause,
            broken.data
        ],
    )?;
    match row.source {
        Source::Tail => {
            tx.execute("DELETE FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3", keys)?;
        }
        Source::Chunk => {
            tx.execute("UPDATE chunk SET data = x'' WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3", keys)?;
        }
        Source::MinuteChunk => return minutes_anew(tx, row).map(Some),
    }
    Ok(Some(Outcome::SetAside { count: broken.count }))
}

/// `None` if the row is not there, was set aside already, or decodes.
fn look_again(tx: &Connection, row: &Unreadable) -> rusqlite::Result<Option<Broken>> {
    let sql = match row.source {
        Source::Chunk => {
            "SELECT last_mono_ms, count, data FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3"
        }
        Source::MinuteChunk => {
            "SELECT c.last_mono_ms, c.count, m.data FROM chunk c JOIN minute_chunk m ON m.id = c.id
             WHERE c.series = ?1 AND c.boot = ?2 AND c.first_mono_ms = ?3"
        }
        // Until the next row at the most.
        Source::Tail => {
            "SELECT (SELECT min(first_mono_ms) - 1 FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms > ?3),
                count, data FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3"
        }
    };
    let found: Option<(Option<i64>, i64, Vec<u8>)> = tx
        .query_row(sql, params![row.series.0, row.boot.0, row.first_ms], |r| Ok((r.get(0)?, r.get(1)?, r.get(2)?)))
        .optional()?;
    Ok(found.filter(|(_, _, data)| !data.is_empty()).and_then(|(last_ms, count, data)| {
        let cause = codec::decode(&data, |_| true).err()?.to_string();
        Some(Broken { last_ms, count, data, cause })
    }))
}

/// Makes the minutes of a chunk from its samples; without them there are none from now on.
fn minutes_anew(tx: &Connection, row: &Unreadable) -> rusqlite::Result<Outcome> {
    let (chunk, data): (i64, Vec<u8>) = tx.query_row(
        "SELECT id, data FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms = ?3",
        params![row.series.0, row.boot.0, row.first_ms],
        |r| Ok((r.get(0)?, r.get(1)?)),
    )?;
    let minutes = match codec::decode(&data, |_| true) {
        Ok(columns) => minutes_of(tx, row.series, columns)?,
        Err(_) => None,
    };
    match minutes {
        Some(minutes) => tx.execute("UPDATE minute_chunk SET data = ?2 WHERE id = ?1", params![chunk, minutes])?,
        None => tx.execute("DELETE FROM minute_chunk WHERE id = ?1", [chunk])?,
    };
    Ok(Outcome::MinutesAnew)
}

fn minutes_of(tx: &Connection, series: SeriesId, columns: Columns) -> rusqlite::Result<Option<Vec<u8>>> {
    let mut channels = common::stored_channels(tx, series)?;
    // The chunk may be older than the latest channels.
    channels.truncate(columns.channels.len());
    let layout = layout_of(&channels, 0);
    // Minutes hold no integrals: where the first interval begins makes no difference.
    let mut carry = vec![None; channels.len() + 1];
    let block = Block { columns, ..Block::default() };
    Ok(block.close(&layout, &mut carry).and_then(|closed| closed.minutes))
}

/// A row of the tail that does not decode, as its key tells it.
pub(super) fn broken_tail(series: SeriesId, boot: BootNo, first_ms: i64, cause: String) -> Unreadable {
    Unreadable { source: Source::Tail, series, boot, first_ms, last_ms: first_ms, utc: None, cause, aside: false }
}
