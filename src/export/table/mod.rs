//! The tables: what each has in its columns, and how its rows are read.

mod capacity;
mod events;
mod passages;
mod samples;
mod summary;

use std::str::FromStr;

use jiff::tz::TimeZone;

use super::cell::{Cell, Column, Kind};
use crate::battery::Bank;
use crate::quantity::UtcMs;
use crate::store::{Reader, Result};

/// Which table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// Every sample.
    Samples,
    /// Local days: what went in and out, extremes.
    Summary,
    /// Passages with what they come to.
    Passages,
    /// Capacity findings.
    Capacity,
    /// Events.
    Events,
}

impl What {
    /// The word on the command line, with which names of files begin.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            What::Samples => "samples",
            What::Summary => "summary",
            What::Passages => "passages",
            What::Capacity => "capacity",
            What::Events => "events",
        }
    }
}

impl FromStr for What {
    type Err = String;

    fn from_str(word: &str) -> std::result::Result<What, String> {
        [What::Samples, What::Summary, What::Passages, What::Capacity, What::Events]
            .into_iter()
            .find(|what| what.word() == word)
            .ok_or_else(|| "expected samples, summary, passages, capacity or events".to_owned())
    }
}

/// A bank, as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Described {
    /// Its name.
    pub name: String,
    /// Its description; `None` where no configuration was read, or where it is in none.
    pub bank: Option<Bank>,
}

/// What is asked for.
#[derive(Debug, Clone)]
pub struct Asked {
    /// Banks, in this order.
    pub banks: Vec<Described>,
    /// From here.
    pub from: UtcMs,
    /// To here, not included.
    pub to: UtcMs,
    /// The zone of local days.
    pub zone: TimeZone,
}

/// A table on its way: its rows, one after the other.
pub trait Table {
    /// The columns. One is called `bank`.
    fn columns(&self) -> &[Column];

    /// Place of the column whose month counts where files are made by months.
    fn time_at(&self) -> usize;

    /// Puts the next row into the buffer; false, and nothing, after the last.
    ///
    /// # Errors
    /// What the store reports.
    fn next(&mut self, row: &mut Vec<Cell>) -> Result<bool>;

    /// Parts that are done, and all of them.
    fn progress(&self) -> (u64, u64);
}

/// Begins a table.
///
/// # Errors
/// What the store reports.
pub fn table<'r>(what: What, reader: &'r Reader, asked: Asked) -> Result<Box<dyn Table + 'r>> {
    Ok(match what {
        What::Samples => Box::new(samples::Samples::begin(reader, &asked)?),
        What::Summary => Box::new(summary::Days::begin(reader, asked)?),
        What::Passages => Box::new(passages::read(reader, &asked)?),
        What::Capacity => Box::new(capacity::read(reader, &asked)?),
        What::Events => Box::new(events::read(reader, &asked)?),
    })
}

/// Columns of these names and kinds.
fn columns(named: &[(&str, Kind)]) -> Vec<Column> {
    named.iter().map(|(name, kind)| Column::new(name, *kind)).collect()
}

/// A table that is small enough to be read at once.
struct Listed {
    columns: Vec<Column>,
    time_at: usize,
    rows: std::vec::IntoIter<Vec<Cell>>,
    all: u64,
}

impl Listed {
    fn new(columns: Vec<Column>, time_at: usize, rows: Vec<Vec<Cell>>) -> Listed {
        Listed { columns, time_at, all: rows.len() as u64, rows: rows.into_iter() }
    }
}

impl Table for Listed {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn time_at(&self) -> usize {
        self.time_at
    }

    fn next(&mut self, row: &mut Vec<Cell>) -> Result<bool> {
        row.clear();
        let next = self.rows.next();
        let is_there = next.is_some();
        row.extend(next.into_iter().flatten());
        Ok(is_there)
    }

    fn progress(&self) -> (u64, u64) {
        (self.all - self.rows.len() as u64, self.all)
    }
}
