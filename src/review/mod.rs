//! What the store has about a bank, put together for page, commands and files: passages with what they come to, ledgers,
//! and the health of the bank. Reads the store through its reader only; times are placed in UTC here.

mod series;
pub mod stretches;

pub use series::{reconciled_name, series_of};

/// Power, as the store names it.
pub const POWER: &str = "power_w";
