//! How the bank is used: its days, its ways from full to full, and what draws charge that no branch accounts for.

mod days;
mod drift;
mod growth;
mod levels;
mod loops;
mod summary;

pub use days::Days;
pub use loops::Loops;
pub use summary::{
    TEMPERATURE_EDGES_C, days_since_full, efficiency, hours_by_temperature, shares_of_charge, time_to_full,
};

#[cfg(test)]
mod tests;
