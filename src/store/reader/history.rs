//! History at any span, thinned to what a screen can show.
//!
//! The answer is in bins aligned on multiples of the step in UTC. Bins of two minutes and more are filled from minute
//! summaries, of two hours and more from hours, of two days and more from days; each row goes to the bin in which its
//! middle lies, so near the edges of a bin up to half a minute, hour or day may stand in the neighbouring bin. Every
//! sample is in exactly one bin: a spike of one second shows in the maximum at any zoom.

use super::Reader;
use super::bins::{Bin, Bins};
use super::scan::{Piece, Selection};
use super::summaries::Middle;
use super::unpacked::Unpacked;
use crate::quantity::UtcMs;
use crate::store::codec::CodecError;
use crate::store::error::Result;
use crate::store::record::SeriesId;
use crate::store::summary::{DAY_MS, HOUR_MS, MINUTE_MS};

/// Most bins that an answer may have.
const MAX_POINTS: usize = 20_000;

/// Widths of bins, in milliseconds: those that people read off an axis.
const STEPS_MS: &[i64] = &[
    100,
    200,
    500,
    1000,
    2000,
    5000,
    10_000,
    15_000,
    30_000,
    MINUTE_MS,
    2 * MINUTE_MS,
    5 * MINUTE_MS,
    10 * MINUTE_MS,
    15 * MINUTE_MS,
    20 * MINUTE_MS,
    30 * MINUTE_MS,
    HOUR_MS,
    2 * HOUR_MS,
    3 * HOUR_MS,
    4 * HOUR_MS,
    6 * HOUR_MS,
    8 * HOUR_MS,
    12 * HOUR_MS,
    DAY_MS,
    2 * DAY_MS,
    4 * DAY_MS,
    7 * DAY_MS,
    14 * DAY_MS,
    28 * DAY_MS,
];

/// What to show.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HistoryQuery {
    /// The series.
    pub series: SeriesId,
    /// Names of channels; all if empty.
    pub channels: Vec<String>,
    /// From here.
    pub from: UtcMs,
    /// To here.
    pub to: UtcMs,
    /// Most bins wanted, at least 1.
    pub points: usize,
}

/// History in bins.
#[derive(Debug, Clone, PartialEq)]
pub struct History {
    /// Width of a bin.
    pub step_ms: i64,
    /// Where each row begins, rising. Bins without samples are left out; a gap is one row without values.
    pub time_ms: Vec<i64>,
    /// One per channel asked for.
    pub channels: Vec<HistoryChannel>,
}

/// One channel of a history; each column as long as the times.
#[derive(Debug, Clone, PartialEq)]
pub struct HistoryChannel {
    /// Its name.
    pub name: String,
    /// Smallest value in each bin.
    pub min: Vec<Option<f64>>,
    /// Mean of the samples in each bin.
    pub mean: Vec<Option<f64>>,
    /// Largest value in each bin.
    pub max: Vec<Option<f64>>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Source {
    Samples,
    Minutes,
    Hours,
    Days,
}

/// An answer on its way.
pub(super) struct Filling {
    pub(super) id: SeriesId,
    pub(super) selection: Selection,
    pub(super) bins: Bins,
    unpacked: Unpacked,
}

impl Filling {
    fn samples(&mut self, data: &[u8], piece: &Piece) -> std::result::Result<(), CodecError> {
        self.unpacked.samples(data, &self.selection)?;
        self.bins.add_samples(&self.unpacked, &self.selection, piece);
        Ok(())
    }

    fn minutes(&mut self, data: &[u8], piece: &Piece) -> std::result::Result<(), CodecError> {
        self.unpacked.summaries(data, &self.selection)?;
        self.bins.add_summaries(&self.unpacked, &self.selection, piece, |start_ms| start_ms + MINUTE_MS / 2);
        Ok(())
    }

    /// A block of hours or days.
    pub(super) fn packed(&mut self, data: &[u8], piece: &Piece, middle: Middle) -> std::result::Result<(), CodecError> {
        self.unpacked.summaries(data, &self.selection)?;
        self.bins.add_summaries(&self.unpacked, &self.selection, piece, |start_ms| middle.of(start_ms));
        Ok(())
    }
}

impl Reader {
    /// History of a series between two times in at most `points` bins.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], [`crate::store::Error::UnknownChannel`], or what
    /// SQLite reports.
    pub fn history(&self, query: &HistoryQuery) -> Result<History> {
        let _snapshot = self.snapshot()?;
        let info = self.series(query.series)?;
        let selection = Selection::of(&info, &query.channels)?;
        let (step_ms, from_ms, count) = bins_for(query);
        let mut filling = Filling {
            id: query.series,
            bins: Bins { from_ms, step_ms, cells: vec![vec![Bin::EMPTY; count]; selection.wanted.len()] },
            selection,
            unpacked: Unpacked::default(),
        };
        let to_ms = from_ms + step_ms * count as i64;
        for piece in self.pieces(query.series, UtcMs(from_ms), UtcMs(to_ms))? {
            self.fill(&mut filling, &piece)?;
        }
        Ok(filling.bins.into_history(filling.selection, info.gap_ms))
    }

    fn fill(&self, filling: &mut Filling, piece: &Piece) -> Result<()> {
        let (id, boot) = (filling.id, piece.range.boot);
        let within = (piece.range.from.0, piece.range.to.0);
        match source_for(filling.bins.step_ms) {
            Source::Samples => self.each_chunk(id, boot, within, false, |data, _| filling.samples(data, piece))?,
            Source::Minutes => self.each_chunk(id, boot, within, true, |data, is_minutes| {
                if is_minutes { filling.minutes(data, piece) } else { filling.samples(data, piece) }
            })?,
            Source::Hours => self.add_summaries(filling, piece, HOUR_MS)?,
            Source::Days => self.add_summaries(filling, piece, DAY_MS)?,
        }
        if piece.extent.tail_from.is_some_and(|from| from < within.1) {
            self.each_tail(id, boot, |data| filling.samples(data, piece))?;
        }
        Ok(())
    }
}

fn source_for(step_ms: i64) -> Source {
    if step_ms >= 2 * DAY_MS {
        Source::Days
    } else if step_ms >= 2 * HOUR_MS {
        Source::Hours
    } else if step_ms >= 2 * MINUTE_MS {
        Source::Minutes
    } else {
        Source::Samples
    }
}

/// Width of the bins, start of the first one, and their number: the finest that need no more than `points`.
fn bins_for(query: &HistoryQuery) -> (i64, i64, usize) {
    let points = query.points.clamp(1, MAX_POINTS) as i64;
    // Beyond 100,000 years either way there is nothing to ask for, and sums stay far from overflow.
    let far = 100_000 * 366 * DAY_MS;
    let from = query.from.0.clamp(-far, far);
    let to = query.to.0.clamp(from, far);
    let number = |step: i64| {
        let end = to.div_euclid(step) + i64::from(to.rem_euclid(step) > 0);
        end - from.div_euclid(step)
    };
    let longest = STEPS_MS[STEPS_MS.len() - 1];
    let doubled = std::iter::successors(Some(longest * 2), |step| Some(step * 2));
    let step = STEPS_MS
        .iter()
        .copied()
        .chain(doubled)
        .find(|step| number(*step) <= points || *step > far)
        .expect("the doubling does not end");
    let count = usize::try_from(number(step)).expect("to is not before from");
    (step, from.div_euclid(step) * step, count)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn query(from: i64, to: i64, points: usize) -> HistoryQuery {
        HistoryQuery { series: SeriesId(1), channels: Vec::new(), from: UtcMs(from), to: UtcMs(to), points }
    }

    #[test]
    fn bins_are_aligned_and_never_more_than_asked_for() {
        for days in [1, 3, 21, 365, 5479] {
            for points in [1, 2, 7, 800, 1500] {
                let from = 1_790_000_123_456;
                let to = from + days * DAY_MS;
                let (step, start, count) = bins_for(&query(from, to, points));
                assert!(count <= points || points == 1, "{days} d in {points}: {count}");
                assert_eq!(start.rem_euclid(step), 0);
                assert!(start <= from && start + step * count as i64 >= to);
            }
        }
    }

    #[test]
    fn absurd_questions_do_not_overflow() {
        for (from, to) in [(i64::MIN, i64::MAX), (i64::MAX, i64::MIN), (5, 5), (i64::MIN, i64::MIN)] {
            let (step, _, count) = bins_for(&query(from, to, usize::MAX));
            assert!(step > 0 && count <= MAX_POINTS);
        }
    }
}
