//! Files to send: tables of what the store has. Reads the store through its reader only.
//!
//! A [`Table`] gives its rows one after the other into a buffer of the caller; a [`Target`] takes them. Neither holds
//! more than a stretch of them, so memory does not grow with the span.

mod cell;
mod format;
mod table;
mod target;

pub use cell::{Cell, Column, Kind};
pub use format::Format;
pub use table::{Asked, Described, Table, What, table};
pub use target::{Error, Placing, Target};
