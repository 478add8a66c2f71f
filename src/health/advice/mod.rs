//! What to do so that a bank lasts: rules, each with its reason, what it rests on, and where it comes from.
//!
//! A rule speaks only where its evidence is known. None tells anybody to work on a live circuit; where a rule touches
//! connections or equalising, it says what to take care of.

mod charge;
mod evidence;
mod heat;
mod trouble;

pub use evidence::{Evidence, Recent};

use serde::Serialize;

#[cfg(test)]
mod tests;

/// One piece of advice.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Advice {
    /// The rule's name.
    pub rule: &'static str,
    /// `warning`, `caution` or `note`.
    pub priority: &'static str,
    /// In a few words.
    pub title: String,
    /// Why it matters.
    pub reason: &'static str,
    /// What was seen, with its numbers.
    pub evidence: String,
    /// What to do.
    pub action: &'static str,
    /// Where rule and threshold come from.
    pub source: &'static str,
}

/// A rule: silent where it has nothing to say.
type Rule = fn(&Evidence) -> Option<Advice>;

/// All rules, the gravest first.
const RULES: [Rule; 13] = [
    trouble::connection,
    heat::charged_in_frost,
    trouble::weak_monobloc,
    charge::full_overdue,
    heat::too_hot,
    charge::too_deep,
    trouble::unaccounted_load,
    trouble::sensor_drift,
    trouble::efficiency_falling,
    charge::equalise,
    charge::balance,
    trouble::test_due,
    heat::full_and_warm,
];

/// What the rules say, warnings first.
#[must_use]
pub fn advice(evidence: &Evidence) -> Vec<Advice> {
    let mut said: Vec<Advice> = RULES.iter().filter_map(|rule| rule(evidence)).collect();
    said.sort_by_key(|advice| match advice.priority {
        "warning" => 0,
        "caution" => 1,
        _ => 2,
    });
    said
}
