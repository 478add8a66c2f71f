//! Comma-separated values (RFC 4180).

use std::io::Write;

use super::Writing;
use crate::export::cell::{Cell, Column};
use crate::review::rfc3339;

/// A CSV file on its way.
pub struct Csv<'w> {
    out: csv::Writer<Box<dyn Write + Send + 'w>>,
    text: String,
}

impl<'w> Csv<'w> {
    /// Writes the header.
    pub fn begin(columns: &[Column], out: Box<dyn Write + Send + 'w>) -> std::io::Result<Csv<'w>> {
        let mut out = csv::Writer::from_writer(out);
        out.write_record(columns.iter().map(|column| &column.name))?;
        Ok(Csv { out, text: String::new() })
    }

    fn field(&mut self, cell: &Cell) -> std::io::Result<()> {
        use std::fmt::Write as _;
        self.text.clear();
        // Writing to a text never fails.
        let _ = match cell {
            Cell::Empty => Ok(()),
            Cell::Text(text) => self.text.write_str(text),
            Cell::Number(number) => write!(self.text, "{number}"),
            Cell::Whole(number) => write!(self.text, "{number}"),
            Cell::Time(time) => self.text.write_str(&rfc3339(*time).unwrap_or_default()),
            Cell::Flag(flag) => write!(self.text, "{flag}"),
        };
        self.out.write_field(&self.text)?;
        Ok(())
    }
}

impl Writing for Csv<'_> {
    fn row(&mut self, row: &[Cell]) -> std::io::Result<()> {
        row.iter().try_for_each(|cell| self.field(cell))?;
        self.out.write_record(None::<&[u8]>)?;
        Ok(())
    }

    fn end(mut self: Box<Self>) -> std::io::Result<()> {
        self.out.flush()
    }
}
