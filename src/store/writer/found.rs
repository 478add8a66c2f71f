//! Damage that the writer met, and what it did about it, for people.

use std::collections::HashSet;
use std::path::{Path, PathBuf};

use super::Writer;
use crate::quantity::{BootNo, Moment};
use crate::store::record::{EventRecord, SeriesId};
use crate::store::unreadable::{Source, Unreadable, span_words};

/// What a writer knows of damage.
#[derive(Debug, Default)]
pub(super) struct Damage {
    /// Met since it was last asked for.
    pub(super) found: Vec<Found>,
    /// Rows in damaged pages that were told already.
    pub(super) pages_told: HashSet<(Source, SeriesId, BootNo, i64)>,
    /// Name and fault of a broken file that was renamed while there is no new one yet.
    pub(super) renamed: Option<(PathBuf, String)>,
}

/// Damage that was met.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Found {
    /// A piece of a series could not be read.
    Piece(Piece),
    /// The file was broken: it was renamed, and a new one begun.
    Anew(Anew),
}

/// A piece of a series that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Piece {
    /// The row.
    pub row: Unreadable,
    /// The bank.
    pub bank: String,
    /// The series.
    pub series: String,
    /// Whether the series is that of a device.
    pub is_device: bool,
    /// What was done.
    pub outcome: Outcome,
}

/// What became of a row that does not decode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Outcome {
    /// Moved into the table `set_aside`.
    SetAside {
        /// Samples that it should have held.
        count: i64,
    },
    /// It held minute summaries; these were made anew from the samples.
    MinutesAnew,
    /// Its samples were still in memory and were written anew.
    WrittenAnew,
    /// Its pages are damaged: it was left where it is.
    LeftThere,
}

/// A broken file that was renamed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Anew {
    /// What was broken.
    pub cause: String,
    /// The store, begun anew.
    pub store: PathBuf,
    /// The broken file's name now.
    pub broken: PathBuf,
    /// Banks whose saved state could be taken out of it.
    pub states: Vec<String>,
}

impl Writer {
    /// Damage that was met since the last call, and what was done about it.
    pub fn take_found(&mut self) -> Vec<Found> {
        std::mem::take(&mut self.damage.found)
    }

    /// The boot of the computer that was begun last in this run.
    #[must_use]
    pub const fn live_boot(&self) -> Option<BootNo> {
        self.known.live()
    }
}

impl Found {
    /// As an event of that moment.
    #[must_use]
    pub fn event(&self, at: Moment) -> EventRecord {
        let (bank, device, kind, priority) = match self {
            Found::Piece(piece) => {
                let bank = (!piece.bank.is_empty()).then(|| piece.bank.clone());
                let device = piece.is_device.then(|| piece.series.clone());
                let mended = matches!(piece.outcome, Outcome::MinutesAnew | Outcome::WrittenAnew);
                (bank, device, "record-unreadable", if mended { "note" } else { "caution" })
            }
            Found::Anew(_) => (None, None, "store-begun-anew", "warning"),
        };
        let (kind, priority) = (kind.to_owned(), priority.to_owned());
        EventRecord { at, bank, device, kind, priority, text: self.text() }
    }

    /// In words.
    #[must_use]
    pub fn text(&self) -> String {
        match self {
            Found::Piece(piece) => piece.text(),
            Found::Anew(anew) => anew.text(),
        }
    }
}

impl Piece {
    fn text(&self) -> String {
        let Piece { row, series, outcome, .. } = self;
        let span = span_words(row.utc, row.boot, row.first_ms, row.last_ms);
        let cause = &row.cause;
        match outcome {
            Outcome::SetAside { count } => format!(
                "{series}: {count} samples {span} cannot be read ({cause}). They are set aside in the store, byte for \
                 byte; sums of whole hours and days are kept. If it happens again, replace the card"
            ),
            Outcome::MinutesAnew => {
                format!("{series}: the minutes {span} could not be read ({cause}) and were made anew; nothing is lost")
            }
            Outcome::WrittenAnew => {
                format!("{series}: a piece {span} could not be read ({cause}) and was written anew; nothing is lost")
            }
            Outcome::LeftThere => format!(
                "{series}: the samples {span} cannot be read: the file itself is damaged there. Copy the data folder, \
                 check it with `taffrail verify`, and replace the card"
            ),
        }
    }
}

impl Anew {
    fn text(&self) -> String {
        let name = |path: &Path| path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let (broken, store) = (name(&self.broken), name(&self.store));
        let states = if self.states.is_empty() {
            String::new()
        } else {
            format!("; the last known charge of {} was taken over", self.states.join(" and "))
        };
        format!(
            "the store was damaged ({}). It is kept as {broken}, and a new one was begun as {store}{states}. Passages that \
             were marked or named by hand and capacity tests are in the old file only, as are its samples. Keep it: \
             `taffrail verify --store {broken}` says what of it can still be read",
            self.cause
        )
    }
}
