//! What flowed through a bank's branches in a minute.

use crate::battery::Branch;
use crate::health::Aboard;
use crate::quantity::Minute;

/// Each branch with its mean current in the minute, A (positive charges); a computed one has what the others leave, where all
/// of them were read.
fn currents<'a>(aboard: &Aboard<'a>, minute: &'a Minute) -> impl Iterator<Item = (&'a Branch, Option<f64>)> {
    let bank_a = minute.current_a.map(|current| current.mean);
    let measured_a: Option<f64> = minute.branch_a.iter().copied().sum();
    let mut read = minute.branch_a.iter();
    aboard.branches.iter().map(move |branch| match branch.channel {
        Some(_) => (branch, read.next().copied().flatten()),
        None => (branch, bank_a.zip(measured_a).map(|(bank, measured)| bank - measured)),
    })
}

/// Sum of the currents of the branches that are wanted, A; `None` where none of them is there and was read.
pub fn through<'a>(aboard: &Aboard<'a>, minute: &'a Minute, wanted: impl Fn(&Branch) -> bool) -> Option<f64> {
    let known = currents(aboard, minute).filter(|(branch, _)| wanted(branch)).filter_map(|(_, current_a)| current_a);
    known.reduce(|sum, current_a| sum + current_a)
}
