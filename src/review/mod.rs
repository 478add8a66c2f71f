//! What the store has about a bank, put together for page, commands and files: passages with what they come to, ledgers,
//! and the health of the bank. Reads the store through its reader only; times are placed in UTC here.

mod ledger;
mod looked;
mod moments;
mod notes;
mod passages;
pub mod record;
pub mod report;
mod series;
mod standing;
pub mod stretches;
mod values;

pub use ledger::{BranchView, LedgerView, ledger};
pub use looked::Looked;
pub use moments::{Ends, first_moment, last_moment, new_ends};
pub use notes::{duration, unreadable_notes};
pub use passages::{OnePassageView, PassageView, SummaryView, one_passage, passages};
pub use series::{charge_lines, series_of};
pub use standing::standing;
pub use values::{AtView, BandView, SocView, rfc3339};

/// Power, as the store names it.
pub const POWER: &str = "power_w";
