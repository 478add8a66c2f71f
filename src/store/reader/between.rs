//! What a series did between neighbouring times, such as the local days of a year, in one walk.
//!
//! Hours of the boot that no edge cuts come from their summaries; only hours that one cuts, and the open tail, are
//! unpacked. As everywhere the interval between two samples belongs to the later one, so neighbours add up to their whole.

use std::collections::BTreeSet;

use rusqlite::params;

use super::Reader;
use super::scan::{Piece, Selection};
use super::unpacked::Unpacked;
use crate::quantity::{MonoMs, UtcMs};
use crate::store::error::Result;
use crate::store::record::SeriesId;
use crate::store::summary::{Carry, HOUR_MS, Summary, start_of};

/// The summaries that a walk fills.
struct Filling<'a> {
    id: SeriesId,
    selection: &'a Selection,
    gap_ms: i64,
    edges: &'a [UtcMs],
    /// By channel, then by stretch.
    cells: Vec<Vec<Summary>>,
}

impl Reader {
    /// Summaries of channels of a series between neighbours of `edges`, which do not fall: by channel, then by stretch, of
    /// which there is one less than edges. A stretch includes its first edge and not its last.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], [`crate::store::Error::UnknownChannel`], a damaged chunk, or what
    /// SQLite reports.
    pub fn between(&self, series: SeriesId, channels: &[&str], edges: &[UtcMs]) -> Result<Vec<Vec<Summary>>> {
        let _snapshot = self.snapshot()?;
        let info = self.series(series)?;
        let names: Vec<String> = channels.iter().map(|&name| name.to_owned()).collect();
        let selection = Selection::of(&info, &names)?;
        let stretches = edges.len().saturating_sub(1);
        let cells = vec![vec![Summary::EMPTY; stretches]; channels.len()];
        let mut filling = Filling { id: series, selection: &selection, gap_ms: info.gap_ms, edges, cells };
        if let (Some(&first), Some(&last)) = (edges.first(), edges.last()) {
            for piece in self.pieces(series, first, last)? {
                self.fill_piece(&mut filling, &piece)?;
            }
        }
        Ok(filling.cells)
    }

    fn fill_piece(&self, filling: &mut Filling<'_>, piece: &Piece) -> Result<()> {
        let cut = cut_hours(piece, filling.edges);
        self.add_hours(filling, piece, &cut)?;
        for &hour in &cut {
            let mut carry = vec![None; filling.cells.len()];
            self.follow_chunks(filling, piece, (hour, hour + HOUR_MS), &mut carry)?;
        }
        if let Some(tail_from) = piece.extent.tail_from.filter(|from| *from < piece.range.to.0) {
            // The tail is in no summary yet; its first interval begins in the last chunk.
            let mut carry = vec![None; filling.cells.len()];
            self.follow_chunks(filling, piece, (tail_from, tail_from), &mut carry)?;
            let mut unpacked = Unpacked::default();
            self.each_tail(filling.id, piece.range.boot, |data| {
                unpacked.samples(data, filling.selection)?;
                filling.follow(piece, &unpacked, (i64::MIN, i64::MAX), &mut carry);
                Ok(())
            })?;
        }
        Ok(())
    }

    fn add_hours(&self, filling: &mut Filling<'_>, piece: &Piece, cut: &BTreeSet<i64>) -> Result<()> {
        let (from, to) = (piece.range.from.0, piece.range.to.0);
        for (channel, wanted) in filling.selection.wanted.iter().enumerate() {
            let mut read = || -> rusqlite::Result<()> {
                let mut select = self.connection.prepare_cached(HOURS)?;
                let boot = piece.range.boot.0;
                let keys = params![filling.id.0, wanted.channel, boot, start_of(from, HOUR_MS), to];
                let mut rows = select.query(keys)?;
                while let Some(row) = rows.next()? {
                    let start: i64 = row.get(0)?;
                    let stretch = stretch_of(filling.edges, piece, start.max(from));
                    if let Some(stretch) = stretch.filter(|_| !cut.contains(&start)) {
                        filling.cells[channel][stretch].merge(&Summary {
                            count: row.get(1)?,
                            covered_s: row.get(2)?,
                            min: row.get(3)?,
                            max: row.get(4)?,
                            sum: row.get(5)?,
                            positive: row.get(6)?,
                            negative: row.get(7)?,
                        });
                    }
                }
                Ok(())
            };
            read().map_err(self.err("add up its hours"))?;
        }
        Ok(())
    }

    /// Takes the samples of chunks that lie in `within`, and the last ones before it as the begin of their intervals.
    fn follow_chunks(
        &self,
        filling: &mut Filling<'_>,
        piece: &Piece,
        within: (i64, i64),
        carry: &mut [Carry],
    ) -> Result<()> {
        let reach = (within.0.saturating_sub(filling.gap_ms), within.1);
        let mut unpacked = Unpacked::default();
        self.each_chunk(filling.id, piece.range.boot, reach, false, |data, _| {
            unpacked.samples(data, filling.selection)?;
            filling.follow(piece, &unpacked, within, carry);
            Ok(())
        })
    }
}

impl Filling<'_> {
    /// Takes the samples that lie in `within` and in the piece; those before them only as the begin of an interval.
    fn follow(&mut self, piece: &Piece, unpacked: &Unpacked, within: (i64, i64), carry: &mut [Carry]) {
        let times = unpacked.time_ms();
        let end = times.partition_point(|time| *time < within.1);
        for ((cells, wanted), carry) in self.cells.iter_mut().zip(&self.selection.wanted).zip(carry) {
            let mut outside = Summary::EMPTY;
            for (&time, &value) in times[..end].iter().zip(unpacked.channel(wanted, self.selection)) {
                let stretch = stretch_of(self.edges, piece, time).filter(|_| time >= within.0);
                let summary = stretch.map_or(&mut outside, |stretch| &mut cells[stretch]);
                summary.follow(carry, time, value, self.gap_ms);
            }
        }
    }
}

/// The stretch of a moment, if the piece holds it.
fn stretch_of(edges: &[UtcMs], piece: &Piece, mono_ms: i64) -> Option<usize> {
    let inside = (piece.range.from.0..piece.range.to.0).contains(&mono_ms);
    let utc = inside.then(|| piece.range.utc(MonoMs(mono_ms)))?;
    let after = edges.partition_point(|edge| *edge <= utc);
    (after < edges.len()).then(|| after.checked_sub(1)).flatten()
}

/// Starts of the hours of the boot that an edge, or an end of the piece with samples beyond it, cuts.
fn cut_hours(piece: &Piece, edges: &[UtcMs]) -> BTreeSet<i64> {
    let (from, to) = (piece.range.from.0, piece.range.to.0);
    let inside =
        edges.iter().map(|edge| edge.0.saturating_sub(piece.range.offset_ms)).filter(|at| from < *at && *at < to);
    let begin = Some(from).filter(|from| *from > piece.extent.first().mono.0);
    let end = Some(to).filter(|to| piece.extent.folded.is_some_and(|(_, last)| *to <= last));
    inside.chain(begin).chain(end).filter(|at| start_of(*at, HOUR_MS) != *at).map(|at| start_of(at, HOUR_MS)).collect()
}

const HOURS: &str = "SELECT start_mono_ms, count, covered_s, min, max, mean * count,
        coalesce(positive, 0.0), coalesce(negative, 0.0)
    FROM hour_summary WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms >= ?4 AND start_mono_ms < ?5";
