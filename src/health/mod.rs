//! What years of use tell of a bank: capacity and its fade, resistance, balance, use, cycles and the stress of them, and
//! what to do. Pure: minutes, samples and fixes in, records out. Every state goes on where it was saved.

pub mod advice;
pub mod balance;
pub mod capacity;
pub mod cycles;
mod day;
pub mod fade;
mod minutes;
mod normal;
mod record;
pub mod resistance;
mod robust;
pub mod stress;
mod test;
#[cfg(test)]
pub(crate) mod toys;
pub mod usage;
pub mod ventilation;
mod watch;

pub use capacity::{CapacityNow, Findings, Measured, Onward, ToCutOff, TotalLeastSquares};
pub use minutes::{Lane, MainRows, MinuteBuilder, monobloc_place};
pub use record::{
    BalanceDay, BalanceState, CapacityFinding, Cycle, Finding, FixMark, FullLoop, Reach, ResistanceDay, Span, UseDay,
    Watched,
};
pub use test::{
    About, Asked, Due, Ended, Latest, Precondition, Progress, Ran, TestBody, TestResult, Verdict, Worked, next_due,
    preconditions, rate_adjusted_load_a, rated_hours, time_adjusted, verdict,
};
pub use watch::{Aboard, Out, Told};
