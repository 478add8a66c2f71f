//! The order in which a bank lived its samples.
//!
//! The computer's own boots follow each other by their numbers. A trace that was brought in stands where its time is: between
//! two boots, or where a boot has nothing to say (a computer that ran on while the daemon did not). A trace of a time that
//! the bank has samples of already is left out: a bank lives once.

use serde::{Deserialize, Serialize};

use crate::quantity::{BootNo, Moment, MonoMs, Timeline, UtcMs};
use crate::store::{BootSpan, Result};

/// A trace may overlap what was heard live by this much, for clocks drift, ms; and by a tenth of itself.
const TOLERANCE_MS: i64 = 600_000;

/// A piece of one boot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Piece {
    /// The boot.
    pub boot: BootNo,
    /// From here.
    pub from: MonoMs,
    /// To here, not part of it: where it was cut, or just after its last sample.
    pub to: MonoMs,
    imported: bool,
}

/// All that a bank lived, and the traces that are left out.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Course {
    /// What the bank lived, in that order.
    pub pieces: Vec<Piece>,
    /// Traces of a time that the bank has samples of already.
    pub left_out: Vec<BootNo>,
}

/// A place on a course that holds good for as long as what lies before it stays the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Place {
    /// How many pieces lie before it.
    before: usize,
    /// A checksum of them.
    of: u32,
    /// The moment.
    pub at: Moment,
}

/// Tells whether the bank has samples in a boot from one moment to another.
pub type Asked<'a> = dyn FnMut(BootNo, MonoMs, MonoMs) -> Result<bool> + 'a;

impl Course {
    /// Puts the boots in order, as their clocks are known now.
    pub fn new(spans: &[BootSpan], timeline: &Timeline, has_samples: &mut Asked<'_>) -> Result<Course> {
        let pieces = spans.iter().filter(|span| !span.imported).map(Piece::of).collect();
        let mut course = Course { pieces, left_out: Vec::new() };
        let traces = spans.iter().filter(|span| span.imported);
        let mut traces: Vec<Trace<'_>> = traces.filter_map(|span| Trace::of(span, timeline)).collect();
        // Of two that begin at the same time the one that was brought in first stays.
        traces.sort_by_key(|trace| (trace.begin, trace.span.boot));
        for trace in &traces {
            if !course.insert(trace, timeline, has_samples)? {
                course.left_out.push(trace.span.boot);
            }
        }
        Ok(course)
    }

    /// Puts a trace where its time is; false if that is taken.
    fn insert(&mut self, trace: &Trace<'_>, timeline: &Timeline, has_samples: &mut Asked<'_>) -> Result<bool> {
        let reach = |piece: &Piece| utc(timeline, piece.boot, piece.from).zip(utc(timeline, piece.boot, piece.to));
        let later = self.pieces.iter().position(|piece| reach(piece).is_some_and(|(_, end)| end >= trace.begin));
        let Some(place) = later else {
            self.pieces.push(Piece::of(trace.span));
            return Ok(true);
        };
        let piece = self.pieces[place];
        let Some((first, _)) = reach(&piece) else { return Ok(false) };
        if first > trace.end {
            self.pieces.insert(place, Piece::of(trace.span));
            return Ok(true);
        }
        // Only a boot of the computer that goes on after a pause can hold a trace in it.
        let moment = |time: UtcMs| (piece.from + (time.0 - first.0).max(0)).min(piece.to);
        let (cut, end) = (moment(trace.begin), moment(trace.end));
        if piece.imported || cut == piece.from || end == piece.to || has_samples(piece.boot, cut, end)? {
            return Ok(false);
        }
        let parts = [Piece { to: cut, ..piece }, Piece::of(trace.span), Piece { from: cut, ..piece }];
        self.pieces.splice(place..=place, parts);
        Ok(true)
    }

    /// True if samples may still come that belong to a piece: it is the last one, and a boot of the computer.
    pub fn is_open(&self, place: &Place) -> bool {
        place.before + 1 == self.pieces.len() && self.pieces.last().is_some_and(|piece| !piece.imported)
    }

    /// Where the course begins; `None` if there is nothing.
    pub fn begin(&self) -> Option<Place> {
        self.place(0)
    }

    fn place(&self, index: usize) -> Option<Place> {
        let piece = self.pieces.get(index)?;
        Some(Place { before: index, of: self.checksum(index), at: Moment { boot: piece.boot, mono: piece.from } })
    }

    fn checksum(&self, pieces: usize) -> u32 {
        let mut hasher = crc32fast::Hasher::new();
        for piece in &self.pieces[..pieces] {
            hasher.update(&piece.boot.0.to_le_bytes());
            // A trace may be brought in again with more rows; a boot of the computer only goes on.
            hasher.update(&if piece.imported { piece.to.0 } else { 0 }.to_le_bytes());
        }
        hasher.finalize()
    }

    /// The piece that a place lies in; `None` if what lies before it is not what it was.
    pub fn at(&self, place: &Place) -> Option<&Piece> {
        let piece = self.pieces.get(place.before)?;
        let holds = piece.boot == place.at.boot && self.checksum(place.before) == place.of;
        (holds && place.at.mono >= piece.from).then_some(piece)
    }

    /// A later moment of the same piece.
    pub const fn further(place: &Place, to: MonoMs) -> Place {
        Place { at: Moment { mono: to, boot: place.at.boot }, ..*place }
    }

    /// The beginning of the piece after the one that a place lies in.
    pub fn next(&self, place: &Place) -> Option<Place> {
        self.place(place.before + 1)
    }

    /// The stretches from one moment to another (not included), as the bank lived them.
    pub fn between(&self, from: Moment, to: Moment) -> Vec<(BootNo, MonoMs, MonoMs)> {
        let first = self.pieces.iter().position(|piece| piece.boot == from.boot && from.mono < piece.to);
        let last = self.pieces.iter().rposition(|piece| piece.boot == to.boot && piece.from <= to.mono);
        let Some((first, last)) = first.zip(last).filter(|(first, last)| first <= last) else { return Vec::new() };
        let mut stretches: Vec<_> =
            self.pieces[first..=last].iter().map(|piece| (piece.boot, piece.from, piece.to)).collect();
        if let Some(begin) = stretches.first_mut() {
            begin.1 = begin.1.max(from.mono);
        }
        if let Some(end) = stretches.last_mut() {
            end.2 = end.2.min(to.mono);
        }
        stretches.retain(|(_, begin, end)| begin < end);
        stretches
    }

    /// Where a moment lies among all: its piece and its time; `None` if it is in none.
    pub fn rank(&self, at: Moment) -> Option<(usize, MonoMs)> {
        let piece = self.pieces.iter().rposition(|piece| piece.boot == at.boot && piece.from <= at.mono)?;
        Some((piece, at.mono))
    }

    /// Length of all of it, or of what lies before a place, ms of samples and gaps.
    pub fn length_ms(&self, until: Option<&Place>) -> u64 {
        let whole = |pieces: &[Piece]| pieces.iter().map(|piece| piece.to - piece.from).sum::<i64>();
        let ms = match until {
            None => whole(&self.pieces),
            Some(place) => {
                let within = self.pieces.get(place.before).map_or(0, |piece| place.at.mono - piece.from);
                whole(&self.pieces[..place.before.min(self.pieces.len())]) + within
            }
        };
        ms.max(0).unsigned_abs()
    }
}

impl Piece {
    fn of(span: &BootSpan) -> Piece {
        let BootSpan { boot, first, last, imported } = *span;
        Piece { boot, from: first, to: last + 1, imported }
    }
}

/// A trace, and where it surely lies in UTC.
struct Trace<'a> {
    span: &'a BootSpan,
    begin: UtcMs,
    end: UtcMs,
}

impl Trace<'_> {
    fn of<'a>(span: &'a BootSpan, timeline: &Timeline) -> Option<Trace<'a>> {
        let (begin, end) = utc(timeline, span.boot, span.first).zip(utc(timeline, span.boot, span.last))?;
        let tolerance = (end.0.saturating_sub(begin.0) / 10).clamp(0, TOLERANCE_MS);
        Some(Trace { span, begin: UtcMs(begin.0 + tolerance), end: UtcMs(end.0 - tolerance) })
    }
}

fn utc(timeline: &Timeline, boot: BootNo, mono: MonoMs) -> Option<UtcMs> {
    timeline.utc(Moment { boot, mono }).map(|placed| placed.utc)
}
