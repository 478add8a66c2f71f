//! A decade aboard, lived by `sim`, reckoned and stored as if it had been read live, and looked at as a skipper would ten years later.
//!
//! The bench program `decade` lives all of it and judges everything that was found; the test lives a spring of it and judges its passages.

// The test lives a spring and needs less of these than the program that lives all of it.
#[cfg_attr(test, expect(dead_code, reason = "what is found in years is judged by the program"))]
pub mod found;
#[cfg(not(test))]
pub mod lines;
#[cfg_attr(test, expect(dead_code, reason = "how long each part took is told by the program"))]
pub mod produce;
mod reckoned;
pub mod score;
#[cfg_attr(test, expect(dead_code, reason = "what is found in years is judged by the program"))]
pub mod truth;

/// The bank.
pub const BANK: &str = "drive";

#[cfg(test)]
mod spring;
