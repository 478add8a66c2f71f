//! What every watch over a bank is given and gives.

use super::record::Finding;
use crate::battery::{Bank, Branch};
use crate::quantity::Moment;

/// What is known of a bank beforehand.
#[derive(Debug, Clone, Copy)]
pub struct Aboard<'a> {
    /// The bank.
    pub bank: &'a Bank,
    /// Its branches, in the order of the configuration.
    pub branches: &'a [Branch],
}

/// Something that people are to be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Told {
    /// When.
    pub at: Moment,
    /// What kind, as in the list of events: `unaccounted-load`, `weak-monobloc` ...
    pub kind: &'static str,
    /// `warning`, `caution` or `note`.
    pub priority: &'static str,
    /// In words: what, where, what to do.
    pub text: String,
}

/// What comes of watching.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Out {
    /// To be kept.
    pub findings: Vec<Finding>,
    /// To be told.
    pub told: Vec<Told>,
}
