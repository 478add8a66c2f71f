//! Samples as columns, one chunk after the other, unpacked into the same buffers.

use std::collections::VecDeque;
use std::ops::Range;

use rusqlite::{OptionalExtension, params};

use super::scan::Piece;
use super::skipped::Place;
use super::{Reader, Snapshot};
use crate::quantity::{BootNo, Moment, MonoMs, MonoRange, UtcMs};
use crate::store::codec::{Columns, Unpacker};
use crate::store::error::Result;
use crate::store::record::SeriesId;
use crate::store::unreadable::Source;

const CHUNK: &str = "SELECT id, first_mono_ms FROM chunk
    WHERE series = ?1 AND boot = ?2 AND first_mono_ms > ?3 AND first_mono_ms < ?4 ORDER BY first_mono_ms LIMIT 1";
const TAIL: &str = "SELECT 0, first_mono_ms FROM every_tail
    WHERE series = ?1 AND boot = ?2 AND first_mono_ms > ?3 AND first_mono_ms < ?4 ORDER BY first_mono_ms LIMIT 1";

/// What comes next within a piece: the first chunk or row of the tail that begins after this, ms.
#[derive(Debug, Clone, Copy)]
enum Next {
    Chunk(i64),
    Tail(i64),
}

/// A walk over the samples of a series in the order of boot and monotonic time. Goes on over what cannot be read; the
/// reader tells it afterwards ([`Reader::take_unreadable`]). Sees the store as it was when it was
/// made, and keeps the write-ahead log from being taken into the file for as long as it lives.
pub struct ColumnWalk<'r> {
    reader: &'r Reader,
    _snapshot: Snapshot<'r>,
    id: SeriesId,
    pieces: VecDeque<Piece>,
    piece: Option<Piece>,
    next: Next,
    unpacker: Unpacker,
    columns: Columns,
    rows: Range<usize>,
}

/// Samples that follow each other in one boot, over which UTC runs beside monotonic time.
#[derive(Debug, Clone, Copy)]
pub struct SampleColumns<'w> {
    range: MonoRange,
    columns: &'w Columns,
    first: usize,
    end: usize,
}

impl Reader {
    /// Every committed sample of a series between two times, in columns.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn columns(&self, id: SeriesId, from: UtcMs, to: UtcMs) -> Result<ColumnWalk<'_>> {
        let snapshot = self.snapshot()?;
        let pieces = self.pieces(id, from, to)?;
        Ok(self.walk(id, snapshot, pieces))
    }

    /// Every committed sample of a series from one moment to another, both included, in columns, as the bank lived
    /// them: traces that were brought in meanwhile are left out.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn run_columns(&self, id: SeriesId, from: Moment, to: Moment) -> Result<ColumnWalk<'_>> {
        let snapshot = self.snapshot()?;
        let lived = self.lived(from.boot, to.boot).map_err(self.err("read its boots"))?;
        let mut pieces = self.pieces(id, UtcMs(i64::MIN), UtcMs(i64::MAX))?;
        pieces.retain_mut(|Piece { range, .. }| {
            if range.boot == from.boot {
                range.from = range.from.max(from.mono);
            }
            if range.boot == to.boot {
                range.to = range.to.min(to.mono + 1);
            }
            lived.contains(&range.boot) && range.from < range.to
        });
        Ok(self.walk(id, snapshot, pieces))
    }

    /// Every committed sample of a series in one boot from one moment (included) to another (not included), in columns.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn boot_columns(&self, id: SeriesId, boot: BootNo, from: MonoMs, to: MonoMs) -> Result<ColumnWalk<'_>> {
        let snapshot = self.snapshot()?;
        let extent = self.extent_of(id, boot)?;
        let mut ranges = self.timeline()?.ranges(UtcMs(i64::MIN), UtcMs(i64::MAX));
        ranges.retain_mut(|range| {
            (range.from, range.to) = (range.from.max(from), range.to.min(to));
            range.boot == boot && range.from < range.to
        });
        self.note_set_aside(id, &ranges)?;
        let pieces =
            extent.into_iter().flat_map(|extent| ranges.iter().map(move |range| Piece { range: *range, extent }));
        Ok(self.walk(id, snapshot, pieces.collect()))
    }

    /// Boots of the computer from one to another, and these two of whatever kind.
    fn lived(&self, from: BootNo, to: BootNo) -> rusqlite::Result<Vec<BootNo>> {
        self.connection
            .prepare_cached(
                "SELECT no FROM boot WHERE no IN (?1, ?2) OR (no BETWEEN ?1 AND ?2 AND kind = 'live') ORDER BY no",
            )?
            .query_map([from.0, to.0], |row| row.get(0).map(BootNo))?
            .collect()
    }

    fn walk<'r>(&'r self, id: SeriesId, snapshot: Snapshot<'r>, pieces: Vec<Piece>) -> ColumnWalk<'r> {
        ColumnWalk {
            reader: self,
            id,
            pieces: pieces.into(),
            piece: None,
            next: Next::Chunk(i64::MIN),
            unpacker: Unpacker::default(),
            columns: Columns::default(),
            rows: 0..0,
            _snapshot: snapshot,
        }
    }
}

impl ColumnWalk<'_> {
    /// The next samples; `None` after the last ones.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn advance(&mut self) -> Result<Option<SampleColumns<'_>>> {
        while self.step()? {
            if !self.rows.is_empty() {
                return Ok(self.present());
            }
        }
        Ok(None)
    }

    /// What [`ColumnWalk::advance`] gave last.
    #[must_use]
    pub fn present(&self) -> Option<SampleColumns<'_>> {
        let range = self.piece?.range;
        Some(SampleColumns { range, columns: &self.columns, first: self.rows.start, end: self.rows.end })
    }

    /// Leaves what is to come.
    pub(super) fn end(&mut self) {
        self.pieces.clear();
        self.piece = None;
    }

    /// Unpacks a chunk, or finds that a piece has no more; false if nothing is left.
    fn step(&mut self) -> Result<bool> {
        self.rows = 0..0;
        let Some(piece) = self.piece else {
            self.piece = self.pieces.pop_front();
            let Some(piece) = self.piece else { return Ok(false) };
            let before = self.before(&piece).map_err(self.reader.err("find its chunks"))?;
            self.next = Next::Chunk(before);
            return Ok(true);
        };
        if self.unpack_next(&piece)? {
            let place = |mono: MonoMs| self.columns.time_ms.partition_point(|time| *time < mono.0);
            self.rows = place(piece.range.from)..place(piece.range.to);
        } else {
            match self.next {
                Next::Chunk(_) => self.next = Next::Tail(i64::MIN),
                Next::Tail(_) => self.piece = None,
            }
        }
        Ok(true)
    }

    /// Unpacks the next chunk, or the next row of the tail, of a piece; false if there is none. One that cannot be read
    /// is noted, and leaves no rows.
    fn unpack_next(&mut self, piece: &Piece) -> Result<bool> {
        let (reader, series, boot) = (self.reader, self.id, piece.range.boot);
        let Some((chunk, first_ms)) = self.find_next(piece).map_err(reader.err("list its chunks"))? else {
            return Ok(false);
        };
        let place = Place { series, boot, first_ms, last_ms: first_ms };
        let (source, data) = match self.next {
            Next::Chunk(_) => (Source::Chunk, reader.samples_of((chunk, place))?),
            Next::Tail(_) => (Source::Tail, reader.tail_of(place)?),
        };
        self.next = match self.next {
            Next::Chunk(_) => Next::Chunk(first_ms),
            Next::Tail(_) => Next::Tail(first_ms),
        };
        self.columns.time_ms.clear();
        let Some(data) = data else { return Ok(true) };
        if let Err(cause) = self.unpacker.unpack(&data, |_| true, &mut self.columns) {
            self.columns.time_ms.clear();
            let last_ms = match source {
                Source::Tail => reader.tail_end(series, boot, first_ms)?,
                _ => reader.chunk_end(chunk)?.max(first_ms),
            };
            reader.skip(source, Place { last_ms, ..place }, &data, cause.to_string());
        }
        Ok(true)
    }

    /// Number (0 in the tail) and first moment of what comes next in a piece. An index alone answers this.
    fn find_next(&self, piece: &Piece) -> rusqlite::Result<Option<(i64, i64)>> {
        let (sql, after) = match self.next {
            Next::Chunk(after) => (CHUNK, after),
            Next::Tail(after) => (TAIL, after),
        };
        let range = &piece.range;
        let mut select = self.reader.connection.prepare_cached(sql)?;
        let keys = params![self.id.0, range.boot.0, after, range.to.0];
        select.query_row(keys, |row| Ok((row.get(0)?, row.get(1)?))).optional()
    }

    /// Just before the chunk that holds the beginning of a piece, or else the one after it.
    fn before(&self, piece: &Piece) -> rusqlite::Result<i64> {
        let range = &piece.range;
        let first: Option<i64> = self
            .reader
            .connection
            .prepare_cached(
                "SELECT max(first_mono_ms) FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms <= ?3",
            )?
            .query_row(params![self.id.0, range.boot.0, range.from.0], |row| row.get(0))?;
        Ok(first.unwrap_or(range.from.0).saturating_sub(1))
    }
}

impl<'w> SampleColumns<'w> {
    /// The boot that the samples belong to.
    #[must_use]
    pub const fn boot(&self) -> BootNo {
        self.range.boot
    }

    /// Monotonic time of each sample, ms, rising; never empty.
    #[must_use]
    pub fn time_ms(&self) -> &'w [i64] {
        &self.columns.time_ms[self.first..self.end]
    }

    /// Values of the channel at a position, one for each time, NaN where there is none; `None` if no sample has one
    /// because the series gained the channel later.
    #[must_use]
    pub fn channel(&self, position: usize) -> Option<&'w [f64]> {
        self.columns.channels.get(position).map(|values| &values[self.first..self.end])
    }

    /// UTC of a moment of this stretch, by the clock fixes known now.
    #[must_use]
    pub fn utc(&self, mono: MonoMs) -> UtcMs {
        self.range.utc(mono)
    }

    /// False if the clock was not believed.
    #[must_use]
    pub const fn trusted(&self) -> bool {
        self.range.trusted()
    }
}
