//! A decade aboard, lived by `sim`, reckoned and stored as if it had been read live, and looked at as a skipper would ten years later.
//!
//! The bench program `decade` does it second by second; the test, every ten seconds. Both print the same table.

pub mod found;
pub mod lines;
pub mod produce;
mod reckoned;
pub mod score;
pub mod truth;

/// The bank.
pub const BANK: &str = "drive";

#[cfg(test)]
mod spring;
