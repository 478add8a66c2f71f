//! What the store has about a bank, put together for page, commands and files: passages with what they come to, ledgers,
//! and the health of the bank. Reads the store through its reader only; times are placed in UTC here.

mod ledger;
mod moments;
mod notes;
mod passages;
pub mod record;
mod values;

pub use ledger::{BranchView, LedgerView, ledger};
pub use moments::{first_moment, last_moment};
pub use notes::{duration, unreadable_notes};
pub use passages::{PassageView, SummaryView, passage_notes, passages};
pub use values::{AtView, BandView, SocView, rfc3339};
