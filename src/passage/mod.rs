//! Passages: intervals worth reviewing, found from the data or marked by hand; what was drawn in them, by what, and what
//! put it back. Pure.

mod circuits;
mod finder;
mod record;
mod rules;
mod sketch;
mod summary;

pub use finder::Finder;
pub use record::{At, Found, Summary};
pub use rules::Rules;
pub use summary::SummaryBuilder;
