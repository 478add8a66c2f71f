//! The formats: how rows become bytes.

mod csv;
mod json;
mod parquet;

use std::io::Write;
use std::str::FromStr;

use super::cell::{Cell, Column};

/// A format of files.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// Comma-separated values with a header (RFC 4180); empty where nothing is known.
    Csv,
    /// Apache Parquet.
    Parquet,
    /// One JSON object a line; what is not known is null.
    Json,
}

impl Format {
    /// How names of files end.
    #[must_use]
    pub const fn extension(self) -> &'static str {
        match self {
            Format::Csv => "csv",
            Format::Parquet => "parquet",
            Format::Json => "jsonl",
        }
    }

    /// Begins a file.
    ///
    /// # Errors
    /// What writing reports.
    pub(super) fn begin<'w>(
        self,
        columns: &[Column],
        out: Box<dyn Write + Send + 'w>,
    ) -> std::io::Result<Box<dyn Writing + 'w>> {
        Ok(match self {
            Format::Csv => Box::new(csv::Csv::begin(columns, out)?),
            Format::Json => Box::new(json::Json::begin(columns, out)),
            Format::Parquet => Box::new(parquet::Parquet::begin(columns, out)?),
        })
    }
}

impl FromStr for Format {
    type Err = String;

    fn from_str(word: &str) -> Result<Format, String> {
        match word {
            "csv" => Ok(Format::Csv),
            "parquet" => Ok(Format::Parquet),
            "json" => Ok(Format::Json),
            _ => Err("expected csv, parquet or json".to_owned()),
        }
    }
}

/// A file on its way.
pub(super) trait Writing {
    /// Takes a row: a cell for each column.
    ///
    /// # Errors
    /// What writing reports.
    fn row(&mut self, row: &[Cell]) -> std::io::Result<()>;

    /// Writes what is still held, and the end.
    ///
    /// # Errors
    /// What writing reports.
    fn end(self: Box<Self>) -> std::io::Result<()>;
}
