//! A start that nobody knows: the band says so, holds, and narrows.

use taffrail::reckoning::{Method, Reckoner, Start};

use super::Trace;
use super::score::Score;

/// The band over time; widths are of the whole band, ratio.
#[derive(Debug, Clone, Copy)]
pub struct Outcome {
    pub score: Score,
    pub width_first: f64,
    pub width_after_a_day: f64,
    pub width_last: f64,
}

/// Follows a trace of whose start nothing is told.
pub fn follow(method: Method, trace: &Trace) -> Outcome {
    let mut reckoner = Reckoner::begin(method, trace.bank.clone(), Start::Unknown);
    let mut outcome = Outcome { score: Score::default(), width_first: 0.0, width_after_a_day: 0.0, width_last: 0.0 };
    let first_s = trace.rows[0].reading.t_s;
    for (at, row) in trace.rows.iter().enumerate() {
        reckoner.step(&row.reading);
        let state = reckoner.report();
        if let Some(truth) = row.soc {
            outcome.score.add(truth, state.soc, state.soc_band);
        }
        let width = state.soc_band.width();
        if at == 0 {
            outcome.width_first = width;
        }
        if row.reading.t_s - first_s <= 86_400.0 {
            outcome.width_after_a_day = width;
        }
        outcome.width_last = width;
    }
    outcome
}
