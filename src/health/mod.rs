//! What years of use tell of a bank: capacity and its fade, resistance, balance, use, cycles and the stress of them, and
//! what to do. Pure: minutes, samples and fixes in, records out. Every state goes on where it was saved.

pub mod advice;
pub mod balance;
mod capacity;
mod day;
mod minutes;
mod record;
pub mod resistance;
mod robust;
#[cfg(test)]
mod toys;
pub mod usage;
mod watch;

pub use minutes::{Lane, MainRows, MinuteBuilder, monobloc_place};
pub use capacity::{CapacityNow, Combined, Findings, TotalLeastSquares};
pub use record::{
    BalanceDay, BalanceState, CapacityFinding, Cycle, Finding, FixMark, FullLoop, Reach, ResistanceDay, Span, UseDay,
    Watched,
};
pub use watch::{Aboard, Out, Told};
