//! Every sample between two times, one after the other.

use std::collections::VecDeque;

use rusqlite::{Transaction, params};

use super::Reader;
use super::scan::Piece;
use super::skipped::Place;
use crate::quantity::{BootNo, Moment, MonoMs, Sample, UtcMs};
use crate::store::codec;
use crate::store::error::Result;
use crate::store::record::SeriesId;
use crate::store::unreadable::Source;

/// A sample with the UTC of its moment.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredSample {
    /// UTC of its moment, by the clock fixes known now.
    pub utc: UtcMs,
    /// False if the clock was not believed.
    pub trusted: bool,
    /// The sample; values by position of the channel.
    pub sample: Sample,
}

/// A row to be read next.
enum Next {
    /// Number, first and last moment of a chunk.
    Chunk(i64, i64, i64),
    /// First moment of a row of the tail.
    Tail(i64),
}

/// Samples of a series in the order of boot and monotonic time. Goes on over what cannot be read; the reader tells it
/// afterwards ([`Reader::take_unreadable`]). Sees the store as it was when it was made, and keeps
/// the write-ahead log from being taken into the file for as long as it lives.
pub struct Samples<'r> {
    reader: &'r Reader,
    _snapshot: Transaction<'r>,
    id: SeriesId,
    channels: usize,
    pieces: VecDeque<Piece>,
    piece: Option<Piece>,
    next: VecDeque<Next>,
    ready: VecDeque<StoredSample>,
}

impl Reader {
    /// Every committed sample of a series between two times.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], or what SQLite reports.
    pub fn samples(&self, id: SeriesId, from: UtcMs, to: UtcMs) -> Result<Samples<'_>> {
        let snapshot = self.snapshot()?;
        let pieces = self.pieces(id, from, to)?;
        self.walk(id, snapshot, pieces)
    }

    /// Every committed sample of a series from one moment to another, both included, as the bank lived them: traces that
    /// were brought in meanwhile are left out.
    ///
    /// # Errors
    /// As [`Reader::samples`].
    pub fn run(&self, id: SeriesId, from: Moment, to: Moment) -> Result<Samples<'_>> {
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
        self.walk(id, snapshot, pieces)
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

    fn walk<'r>(&'r self, id: SeriesId, snapshot: Transaction<'r>, pieces: Vec<Piece>) -> Result<Samples<'r>> {
        Ok(Samples {
            reader: self,
            id,
            channels: self.series(id)?.channels.len(),
            pieces: pieces.into(),
            piece: None,
            next: VecDeque::new(),
            ready: VecDeque::new(),
            _snapshot: snapshot,
        })
    }
}

impl Samples<'_> {
    /// Makes the next chunk's samples ready; false if there are no more.
    fn advance(&mut self) -> Result<bool> {
        while self.next.is_empty() {
            let Some(piece) = self.pieces.pop_front() else {
                return Ok(false);
            };
            self.next = self.list(&piece)?;
            self.piece = Some(piece);
        }
        if let (Some(next), Some(piece)) = (self.next.pop_front(), self.piece) {
            self.unpack(&next, &piece)?;
        }
        Ok(true)
    }

    fn list(&self, piece: &Piece) -> Result<VecDeque<Next>> {
        let read = || -> rusqlite::Result<VecDeque<Next>> {
            let range = &piece.range;
            let mut chunks = self.reader.connection.prepare_cached(
                "SELECT id, first_mono_ms, last_mono_ms FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms < ?4
                    AND first_mono_ms >= coalesce((SELECT max(first_mono_ms) FROM chunk
                        WHERE series = ?1 AND boot = ?2 AND first_mono_ms <= ?3), ?3)
                 ORDER BY first_mono_ms",
            )?;
            let keys = params![self.id.0, range.boot.0, range.from.0, range.to.0];
            let chunks = chunks.query_map(keys, |row| Ok(Next::Chunk(row.get(0)?, row.get(1)?, row.get(2)?)))?;
            let mut tails = self.reader.connection.prepare_cached(
                "SELECT first_mono_ms FROM every_tail
                 WHERE series = ?1 AND boot = ?2 AND first_mono_ms < ?3 ORDER BY first_mono_ms",
            )?;
            let keys = params![self.id.0, range.boot.0, range.to.0];
            let tails = tails.query_map(keys, |row| row.get(0).map(Next::Tail))?;
            let mut all = chunks.collect::<rusqlite::Result<VecDeque<_>>>()?;
            for tail in tails {
                all.push_back(tail?);
            }
            Ok(all)
        };
        read().map_err(self.reader.err("list its chunks"))
    }

    /// Makes the samples of one row ready; a row that cannot be read is noted and passed over.
    fn unpack(&mut self, next: &Next, piece: &Piece) -> Result<()> {
        let boot = piece.range.boot;
        let (source, place, data) = match *next {
            Next::Chunk(chunk, first_ms, last_ms) => {
                let place = Place { series: self.id, boot, first_ms, last_ms };
                (Source::Chunk, place, self.reader.samples_of((chunk, place))?)
            }
            Next::Tail(first_ms) => {
                let place = Place { series: self.id, boot, first_ms, last_ms: first_ms };
                (Source::Tail, place, self.reader.tail_of(place)?)
            }
        };
        let Some(data) = data else { return Ok(()) };
        let columns = match codec::decode(&data, |_| true) {
            Ok(columns) => columns,
            Err(cause) => {
                let last_ms = match source {
                    Source::Tail => self.reader.tail_end(self.id, boot, place.first_ms)?,
                    _ => place.last_ms,
                };
                self.reader.skip(source, Place { last_ms, ..place }, &data, cause.to_string());
                return Ok(());
            }
        };
        for (row, &time) in columns.time_ms.iter().enumerate() {
            let mono = MonoMs(time);
            if piece.range.from <= mono && mono < piece.range.to {
                let value = |position: usize| columns.channels.get(position).map(|column| column[row]);
                let values =
                    (0..self.channels).map(|position| value(position).filter(|value| !value.is_nan())).collect();
                self.ready.push_back(StoredSample {
                    utc: piece.range.utc(mono),
                    trusted: piece.range.trusted(),
                    sample: Sample { at: Moment { boot, mono }, values },
                });
            }
        }
        Ok(())
    }
}

impl Iterator for Samples<'_> {
    type Item = Result<StoredSample>;

    fn next(&mut self) -> Option<Self::Item> {
        loop {
            if let Some(sample) = self.ready.pop_front() {
                return Some(Ok(sample));
            }
            match self.advance() {
                Ok(true) => {}
                Ok(false) => return None,
                Err(error) => {
                    // Not the row but the store cannot be read: the rest is left for a new question.
                    self.pieces.clear();
                    self.next.clear();
                    return Some(Err(error));
                }
            }
        }
    }
}
