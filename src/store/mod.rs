//! SQLite.

pub mod codec;
