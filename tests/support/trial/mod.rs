//! Trials of a reckoning against known truth: what a shunt makes of a trace, what the reckoner makes of that, and how
//! far both lie apart. The table of `tests/bench/accuracy` prints these outcomes, `tests/scenario` sets limits to them.

pub mod aged;
pub mod banks;
pub mod disturbed;
pub mod lasting;
pub mod must;
pub mod score;
pub mod sensor;
pub mod smoothed;
pub mod traces;
pub mod unknown;
pub mod vrla;

use taffrail::battery::Bank;
use taffrail::reckoning::{Method, Reckoner, Start};

use self::score::Score;
use self::sensor::Sensor;
use crate::support::TruthRow;

/// A bank with what a perfect sensor saw of it, and the truth beside that.
#[derive(Debug, Clone)]
pub struct Trace {
    pub name: String,
    pub bank: Bank,
    pub rows: Vec<TruthRow>,
}

impl Trace {
    /// The trace as that sensor sees it.
    pub fn through(&self, mut sensor: Sensor) -> Trace {
        let rows = self.rows.iter().map(|row| TruthRow { reading: sensor.read(row.reading), ..*row }).collect();
        Trace { rows, name: self.name.clone(), bank: self.bank.clone() }
    }

    /// What may be told of the start: full, or what the truth says first.
    pub fn start(&self) -> Start {
        let first = self.rows.iter().find_map(|row| row.soc).unwrap_or(1.0);
        if first > 0.99 { Start::Full } else { Start::At(first) }
    }

    /// A reckoner at the start of this trace.
    pub fn begin(&self, method: Method) -> Reckoner {
        Reckoner::begin(method, self.bank.clone(), self.start())
    }
}

/// Follows a trace from its stated start and scores every row whose truth is known.
pub fn follow(method: Method, trace: &Trace) -> Score {
    let mut reckoner = trace.begin(method);
    let mut score = Score::default();
    for row in &trace.rows {
        reckoner.step(&row.reading);
        if let Some(truth) = row.soc {
            let state = reckoner.report();
            score.add(truth, state.soc, state.soc_band);
        }
    }
    score
}
