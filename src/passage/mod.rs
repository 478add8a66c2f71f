//! Passages: intervals worth reviewing, found from the data or marked by hand; what was drawn in them, by what, and what
//! put it back. Pure.

mod record;

pub use record::{At, Found, Summary};
