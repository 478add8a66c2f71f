//! The capacity test: a full bank, a steady load, the time to the cut-off.
//!
//! Somebody asks for it ([`preconditions`], [`TestBody::start`]), switches on the load, and each minute is handed to
//! [`TestBody::minute`] until it says how the test ended. taffrail switches nothing itself.

mod before;
mod ends;
mod result;
mod run;

pub use before::{About, Latest, Precondition, preconditions};
pub use result::{
    Due, Ran, TestResult, Verdict, Worked, next_due, rate_adjusted_load_a, rated_hours, time_adjusted, verdict,
};
pub use run::{Asked, Ended, Progress, TestBody};
