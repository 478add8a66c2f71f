//! Rows and columns of a table.

use crate::quantity::UtcMs;

/// What the values of a column are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Text.
    Text,
    /// A number; its unit is told by the name's suffix.
    Number,
    /// A whole number.
    Whole,
    /// A time in UTC.
    Time,
    /// Yes or no.
    Flag,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Its name, with the unit as suffix.
    pub name: String,
    /// What its values are.
    pub kind: Kind,
}

impl Column {
    /// A column of this name and kind.
    #[must_use]
    pub fn new(name: &str, kind: Kind) -> Column {
        Column { name: name.to_owned(), kind }
    }
}

/// A value, of the kind that its column says, or none.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Cell {
    /// Not known.
    #[default]
    Empty,
    /// Text.
    Text(String),
    /// A finite number.
    Number(f64),
    /// A whole number.
    Whole(i64),
    /// A time in UTC.
    Time(UtcMs),
    /// Yes or no.
    Flag(bool),
}

impl Cell {
    /// A number, or nothing where it is none.
    #[must_use]
    pub fn number(value: f64) -> Cell {
        if value.is_finite() { Cell::Number(value) } else { Cell::Empty }
    }

    /// What is there, or nothing.
    #[must_use]
    pub fn maybe(value: Option<f64>) -> Cell {
        value.map_or(Cell::Empty, Cell::number)
    }

    /// A time, or nothing.
    #[must_use]
    pub fn time(value: Option<UtcMs>) -> Cell {
        value.map_or(Cell::Empty, Cell::Time)
    }

    /// Text.
    #[must_use]
    pub fn text(value: &str) -> Cell {
        Cell::Text(value.to_owned())
    }
}
