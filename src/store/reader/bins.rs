//! Bins of a history: filled from samples and minutes, and turned into columns with gaps.

use super::history::{History, HistoryChannel};
use super::scan::{Piece, Selection};
use super::unpacked::Unpacked;
use crate::quantity::MonoMs;

#[derive(Debug, Clone, Copy)]
pub(super) struct Bin {
    pub(super) count: f64,
    pub(super) sum: f64,
    pub(super) min: f64,
    pub(super) max: f64,
}

impl Bin {
    pub(super) const EMPTY: Bin = Bin { count: 0.0, sum: 0.0, min: f64::INFINITY, max: f64::NEG_INFINITY };

    pub(super) fn add(&mut self, count: f64, min: f64, max: f64, mean: f64) {
        if count > 0.0 {
            self.count += count;
            self.sum += mean * count;
            self.min = self.min.min(min);
            self.max = self.max.max(max);
        }
    }

    pub(super) fn add_all(&mut self, values: &[f64]) {
        for &value in values.iter().filter(|value| !value.is_nan()) {
            self.add(1.0, value, value, value);
        }
    }
}

pub(super) struct Bins {
    pub(super) from_ms: i64,
    pub(super) step_ms: i64,
    /// By channel, then by bin.
    pub(super) cells: Vec<Vec<Bin>>,
}

impl Bins {
    /// The bin of a moment, if the piece holds it.
    pub(super) fn place(&self, piece: &Piece, mono_ms: i64) -> Option<usize> {
        let range = &piece.range;
        let inside = range.from.0 <= mono_ms && mono_ms < range.to.0;
        let since = inside.then(|| range.utc(MonoMs(mono_ms)).0 - self.from_ms)?;
        usize::try_from(since / self.step_ms).ok()
    }

    pub(super) fn add_samples(&mut self, unpacked: &Unpacked, selection: &Selection, piece: &Piece) {
        let times = unpacked.time_ms();
        let mut row = times.partition_point(|t| *t < piece.range.from.0);
        let end = times.partition_point(|t| *t < piece.range.to.0);
        while row < end {
            let Some(place) = self.place(piece, times[row]) else {
                return;
            };
            let next_bin_ms = self.from_ms + (place as i64 + 1) * self.step_ms - piece.range.offset_ms;
            let rows = row + times[row..end].partition_point(|t| *t < next_bin_ms);
            for (cells, wanted) in self.cells.iter_mut().zip(&selection.wanted) {
                if let Some(values) = unpacked.channel(wanted, selection).get(row..rows) {
                    cells[place].add_all(values);
                }
            }
            row = rows;
        }
    }

    /// Adds summaries, each to the bin in which its middle lies; `middle` tells it from the start.
    pub(super) fn add_summaries(
        &mut self,
        unpacked: &Unpacked,
        selection: &Selection,
        piece: &Piece,
        middle: impl Fn(i64) -> i64,
    ) {
        for (row, start) in unpacked.time_ms().iter().enumerate() {
            let Some(place) = self.place(piece, middle(*start)) else {
                continue;
            };
            for (cells, wanted) in self.cells.iter_mut().zip(&selection.wanted) {
                if let Some([count, min, max, mean]) = unpacked.summary(wanted) {
                    cells[place].add(count[row], min[row], max[row], mean[row]);
                }
            }
        }
    }

    pub(super) fn into_history(self, selection: Selection, gap_ms: i64) -> History {
        let mut time_ms = Vec::new();
        let mut rows: Vec<Option<usize>> = Vec::new();
        let count = self.cells.first().map_or(0, Vec::len);
        for place in (0..count).filter(|place| self.cells.iter().any(|c| c[*place].count > 0.0)) {
            let start = self.from_ms + place as i64 * self.step_ms;
            if let Some(&before) = time_ms.last()
                && start - before - self.step_ms >= gap_ms.max(self.step_ms)
            {
                time_ms.push(before + self.step_ms);
                rows.push(None);
            }
            time_ms.push(start);
            rows.push(Some(place));
        }
        let channels = selection.wanted.into_iter().zip(&self.cells);
        let column = |cells: &[Bin], part: fn(&Bin) -> f64| {
            let bins = rows.iter().map(|row| row.map(|place| &cells[place]));
            bins.map(|bin| bin.filter(|bin| bin.count > 0.0).map(part)).collect()
        };
        History {
            step_ms: self.step_ms,
            time_ms: time_ms.clone(),
            channels: channels
                .map(|(wanted, cells)| HistoryChannel {
                    name: wanted.name,
                    min: column(cells, |bin| bin.min),
                    mean: column(cells, |bin| bin.sum / bin.count),
                    max: column(cells, |bin| bin.max),
                })
                .collect(),
        }
    }
}
