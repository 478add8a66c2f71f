//! A bank that holds less, or more, than its rating says: what the reckoning finds after each recharge.

use taffrail::reckoning::{FixKind, Method};

use super::score::{Score, holds};
use super::{Trace, banks};
use crate::support::TruthRow;

/// Capacity as reckoned, in parts of the true one.
#[derive(Debug, Clone, Copy)]
pub struct Found {
    pub ratio: f64,
    pub half_width: f64,
    pub holds: bool,
    pub full_fixes: usize,
}

/// What was found at the end of each playing, and the score of the whole.
#[derive(Debug, Clone)]
pub struct Outcome {
    pub found: Vec<Found>,
    pub score: Score,
}

/// The trace twice in a row, with the bank described so that it truly holds `ratio` of its rating.
pub fn twice(trace: &Trace, ratio: f64) -> Trace {
    let step_s = trace.rows[1].reading.t_s - trace.rows[0].reading.t_s;
    let length_s = trace.rows[trace.rows.len() - 1].reading.t_s - trace.rows[0].reading.t_s + step_s;
    let again = trace.rows.iter().map(|row| {
        let mut row: TruthRow = *row;
        row.reading.t_s += length_s;
        row
    });
    let rows = trace.rows.iter().copied().chain(again).collect();
    Trace { name: trace.name.clone(), bank: banks::overrated(&trace.bank, ratio), rows }
}

/// Follows a trace made by [`twice`] and looks at the capacity at the end of each playing.
pub fn find_capacity(method: Method, doubled: &Trace, ratio: f64) -> Outcome {
    let true_ah = doubled.bank.rated_capacity_ah * ratio;
    let mut reckoner = doubled.begin(method);
    let mut outcome = Outcome { found: Vec::new(), score: Score::default() };
    let mut full_fixes = 0;
    for (at, row) in doubled.rows.iter().enumerate() {
        let fix = reckoner.step(&row.reading);
        full_fixes += usize::from(fix.is_some_and(|fix| fix.kind == FixKind::Full));
        let state = reckoner.report();
        if let Some(truth) = row.soc {
            outcome.score.add(truth, state.soc, state.soc_band);
        }
        if (at + 1) % (doubled.rows.len() / 2) == 0 {
            outcome.found.push(Found {
                ratio: state.capacity_ah / true_ah,
                half_width: state.capacity_band_ah.width() / 2.0 / true_ah,
                holds: holds(state.capacity_band_ah, true_ah),
                full_fixes,
            });
        }
    }
    outcome
}
