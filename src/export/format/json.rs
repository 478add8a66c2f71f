//! JSON, an object a line.

use std::io::Write;

use serde::Serialize;
use serde::ser::{SerializeMap, Serializer};

use super::Writing;
use crate::export::cell::{Cell, Column};
use crate::review::rfc3339;

/// A file of JSON lines on its way.
pub struct Json<'w> {
    names: Vec<String>,
    out: std::io::BufWriter<Box<dyn Write + Send + 'w>>,
}

impl<'w> Json<'w> {
    /// Nothing is written yet.
    pub fn begin(columns: &[Column], out: Box<dyn Write + Send + 'w>) -> Json<'w> {
        Json { names: columns.iter().map(|column| column.name.clone()).collect(), out: std::io::BufWriter::new(out) }
    }
}

impl Writing for Json<'_> {
    fn row(&mut self, row: &[Cell]) -> std::io::Result<()> {
        serde_json::to_writer(&mut self.out, &Object(&self.names, row))?;
        self.out.write_all(b"\n")
    }

    fn end(mut self: Box<Self>) -> std::io::Result<()> {
        self.out.flush()
    }
}

struct Object<'r>(&'r [String], &'r [Cell]);

impl Serialize for Object<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        let mut object = to.serialize_map(Some(self.0.len()))?;
        for (name, cell) in self.0.iter().zip(self.1) {
            object.serialize_entry(name, &Value(cell))?;
        }
        object.end()
    }
}

struct Value<'r>(&'r Cell);

impl Serialize for Value<'_> {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            Cell::Empty => to.serialize_none(),
            Cell::Text(text) => to.serialize_str(text),
            Cell::Number(number) => to.serialize_f64(*number),
            Cell::Whole(number) => to.serialize_i64(*number),
            Cell::Time(time) => rfc3339(*time).serialize(to),
            Cell::Flag(flag) => to.serialize_bool(*flag),
        }
    }
}
