//! Stretches of the record that cannot be read: what they are, and how they are told.

use super::record::SeriesId;
use crate::quantity::{BootNo, UtcMs};

/// Where a stretch was stored.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Source {
    /// Samples of a closed stretch.
    Chunk,
    /// Minute summaries of a closed stretch.
    MinuteChunk,
    /// A row of the open tail.
    Tail,
}

impl Source {
    /// Name of the table.
    #[must_use]
    pub const fn table(self) -> &'static str {
        match self {
            Source::Chunk => "chunk",
            Source::MinuteChunk => "minute_chunk",
            Source::Tail => "tail",
        }
    }
}

/// A stretch that could not be read and was left out of an answer, or was found when the store was opened.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unreadable {
    /// Where it is, or was, stored.
    pub source: Source,
    /// The series.
    pub series: SeriesId,
    /// The boot.
    pub boot: BootNo,
    /// First moment, monotonic ms.
    pub first_ms: i64,
    /// Last moment, monotonic ms, as far as known; otherwise the first.
    pub last_ms: i64,
    /// UTC of both, if the boot can be placed.
    pub utc: Option<(UtcMs, UtcMs)>,
    /// What is wrong with it.
    pub cause: String,
    /// Whether it was set aside already.
    pub aside: bool,
}

impl Unreadable {
    /// True if both are the same row of the same table.
    #[must_use]
    pub fn is_same_row(&self, other: &Unreadable) -> bool {
        let key = |of: &Unreadable| (of.source, of.series, of.boot, of.first_ms);
        key(self) == key(other)
    }

    /// For people: what is missing, and why.
    #[must_use]
    pub fn text(&self) -> String {
        let span = span_words(self.utc, self.boot, self.first_ms, self.last_ms);
        format!("samples {span} cannot be read and are left out ({})", self.cause)
    }
}

/// A span in words: from when to when in UTC, or by the time of its boot where that cannot be placed.
#[must_use]
pub fn span_words(utc: Option<(UtcMs, UtcMs)>, boot: BootNo, first_ms: i64, last_ms: i64) -> String {
    let words = |at: UtcMs| {
        let at = jiff::Timestamp::from_millisecond(at.0).ok()?;
        Some(at.strftime("%Y-%m-%d %H:%M:%S").to_string())
    };
    match utc.and_then(|(from, to)| words(from).zip(words(to))) {
        Some((from, to)) => format!("from {from} to {to} UTC"),
        None => format!("of boot {}, second {} to {}", boot.0, first_ms / 1000, last_ms / 1000),
    }
}
