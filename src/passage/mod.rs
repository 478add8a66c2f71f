//! Passages: intervals worth reviewing, found from the data or marked by hand; what was drawn in them, by what, and what
//! put it back. Pure.

mod circuits;
mod finder;
mod ledger;
mod reach;
mod record;
mod rules;
mod sketch;
mod summary;

pub use finder::Finder;
pub use ledger::{BranchLine, Counts, Ends, Flow, Ledger, LedgerBuilder, Stretch};
pub use reach::{Held, Miles, MilesLeft, SpeedBin, miles_left};
pub use record::{At, Found, Summary};
pub use rules::Rules;
pub use summary::SummaryBuilder;
