//! Ten days of a real battery: what is read where the truth is certain, at the ends of discharges and of recharges.

use taffrail::quantity::Band;
use taffrail::reckoning::{Learned, Method};

use super::Trace;
use super::score::Score;

/// What was read.
#[derive(Debug, Clone)]
pub struct Outcome {
    /// At the last row of each complete discharge: state of charge and its lower edge.
    pub empty: Vec<(f64, f64)>,
    /// At the last row before each discharge but the first.
    pub full: Vec<f64>,
    /// Over the rows inside complete discharges.
    pub score: Score,
    /// Capacity at the end and its band, Ah.
    pub capacity_ah: (f64, Band),
    pub learned: Option<Learned>,
}

/// Follows the ten days.
pub fn read(method: Method, trace: &Trace) -> Outcome {
    let mut reckoner = trace.begin(method);
    let state = reckoner.report();
    let mut outcome = Outcome {
        empty: Vec::new(),
        full: Vec::new(),
        score: Score::default(),
        capacity_ah: (state.capacity_ah, state.capacity_band_ah),
        learned: None,
    };
    for (at, row) in trace.rows.iter().enumerate() {
        reckoner.step(&row.reading);
        let state = reckoner.report();
        if let Some(truth) = row.soc {
            outcome.score.add(truth, state.soc, state.soc_band);
        }
        let next = trace.rows.get(at + 1).and_then(|next| next.soc);
        if row.soc.is_some_and(|soc| soc < 0.02) && next.is_none() {
            outcome.empty.push((state.soc, state.soc_band.low));
        }
        if row.soc.is_none() && next.is_some() && !outcome.empty.is_empty() {
            outcome.full.push(state.soc);
        }
        outcome.capacity_ah = (state.capacity_ah, state.capacity_band_ah);
        outcome.learned = state.learned;
    }
    outcome
}
