//! Recorded traces: CSV with `t_s,voltage_v,current_a,temperature_c`.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use crate::quantity::Reading;

/// What is wrong with a trace, in one line: file, line, field, and what was expected.
#[derive(Debug, thiserror::Error)]
pub enum TraceError {
    /// The file cannot be opened.
    #[error("{path}: cannot be read: {cause}")]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
    /// A column is missing.
    #[error("{path}:1: {field}: no such column in the header, expected t_s,voltage_v,current_a,temperature_c")]
    NoColumn {
        /// The file.
        path: PathBuf,
        /// The column.
        field: &'static str,
    },
    /// A row that cannot be used.
    #[error("{path}:{line}: {field}: {text}")]
    Row {
        /// The file.
        path: PathBuf,
        /// Line in the file, from 1.
        line: u64,
        /// The field.
        field: &'static str,
        /// What is there and what was expected.
        text: String,
    },
}

/// Reads a trace row by row; a row is in memory only while it is looked at.
pub struct Trace<R = File> {
    path: PathBuf,
    reader: csv::Reader<R>,
    row: csv::StringRecord,
    columns: Columns,
    last_t_s: Option<f64>,
}

struct Columns {
    time: usize,
    voltage: usize,
    current: usize,
    temperature: Option<usize>,
}

impl Trace {
    /// Opens a file and reads its header.
    ///
    /// # Errors
    /// [`TraceError`] if it cannot be read or a column is missing.
    pub fn open(path: &Path) -> Result<Trace, TraceError> {
        let file = File::open(path).map_err(|cause| TraceError::Unreadable { path: path.to_owned(), cause })?;
        Trace::read(path, file)
    }
}

impl<R: Read> Trace<R> {
    /// Reads the header of a text; `path` is what mistakes in it are told by.
    ///
    /// # Errors
    /// [`TraceError`] if a column is missing or the text cannot be read.
    pub fn read(path: &Path, text: R) -> Result<Trace<R>, TraceError> {
        let unreadable = |cause| TraceError::Unreadable { path: path.to_owned(), cause };
        let mut reader = csv::ReaderBuilder::new().flexible(true).trim(csv::Trim::All).from_reader(text);
        let header = reader.headers().map_err(|e| unreadable(e.into()))?.clone();
        // A spreadsheet may put a byte-order mark before the first name.
        let find = |name: &str| header.iter().position(|h| h.trim_start_matches('\u{feff}') == name);
        let need = |field| find(field).ok_or_else(|| TraceError::NoColumn { path: path.to_owned(), field });
        let columns = Columns {
            time: need("t_s")?,
            voltage: need("voltage_v")?,
            current: need("current_a")?,
            temperature: find("temperature_c"),
        };
        Ok(Trace { path: path.to_owned(), reader, row: csv::StringRecord::new(), columns, last_t_s: None })
    }

    /// The next row; `None` at the end.
    ///
    /// # Errors
    /// [`TraceError::Row`] if the row cannot be used.
    pub fn next_reading(&mut self) -> Result<Option<Reading>, TraceError> {
        let line = self.reader.position().line();
        match self.reader.read_record(&mut self.row) {
            Ok(true) => {}
            Ok(false) => return Ok(None),
            Err(error) => {
                let line = error.position().map_or(line, csv::Position::line);
                return Err(self.row_error(line, "row", "cannot be read, expected comma-separated UTF-8 text"));
            }
        }
        let t_s = self.number(self.columns.time, "t_s")?;
        if self.last_t_s.is_some_and(|last| t_s <= last) {
            let text = format!("is {t_s}, expected more than the row before ({})", self.last_t_s.unwrap_or(t_s));
            return Err(self.row_error(self.line(), "t_s", &text));
        }
        self.last_t_s = Some(t_s);
        Ok(Some(Reading {
            t_s,
            voltage_v: self.number(self.columns.voltage, "voltage_v")?,
            current_a: self.number(self.columns.current, "current_a")?,
            temperature_c: self.temperature()?,
        }))
    }

    fn temperature(&self) -> Result<Option<f64>, TraceError> {
        match self.columns.temperature {
            Some(column) if !self.row.get(column).unwrap_or("").is_empty() => {
                self.number(column, "temperature_c").map(Some)
            }
            _ => Ok(None),
        }
    }

    fn number(&self, column: usize, field: &'static str) -> Result<f64, TraceError> {
        let text = self.row.get(column).unwrap_or("");
        match text.parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(value),
            _ => Err(self.row_error(self.line(), field, &format!("is \"{text}\", expected a number"))),
        }
    }

    fn line(&self) -> u64 {
        self.row.position().map_or(0, csv::Position::line)
    }

    fn row_error(&self, line: u64, field: &'static str, text: &str) -> TraceError {
        TraceError::Row { path: self.path.clone(), line, field, text: text.to_owned() }
    }
}
