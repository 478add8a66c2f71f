//! The health record of a bank.

mod views;

pub use views::*;
