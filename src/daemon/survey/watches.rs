//! All that watches over a bank, and what comes of it.

use serde::{Deserialize, Serialize};

use super::Surveying;
use super::trials::Trials;
use super::walk::Watching;
use crate::health::balance::Balance;
use crate::health::cycles::{Rainflow, Swing};
use crate::health::resistance::Steps;
use crate::health::usage::{Days, Loops};
use crate::health::{Aboard, Cycle, Finding, Findings, FixMark, Out, Span, TestBody};
use crate::passage::{Finder, Found, Miles};
use crate::quantity::{Minute, Moment, Reading};
use crate::store::TestState;

/// What came of a stretch.
#[derive(Debug, Default)]
pub struct Made {
    pub out: Out,
    pub passages: Vec<Found>,
    /// Capacity tests that have moved on.
    pub tests: Vec<(i64, TestState, TestBody)>,
}

/// The watches over a bank, as they are saved between two looks.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Watches {
    finder: Finder,
    capacity: Findings,
    resistance: Steps,
    balance: Balance,
    days: Days,
    loops: Loops,
    rainflow: Rainflow<Moment>,
    miles: Miles,
    pub trials: Trials,
}

/// Swings of the reckoned charge below this are no cycles, ratio: corrections of the reckoning are as large (assumed).
const LEAST_SWING: f64 = 0.01;

impl Watches {
    pub fn new(aboard: &Aboard<'_>) -> Watches {
        Watches {
            finder: Finder::default(),
            capacity: Findings::new(aboard),
            resistance: Steps::new(aboard),
            balance: Balance::new(aboard),
            days: Days::new(aboard),
            loops: Loops::new(aboard),
            rainflow: Rainflow::new(LEAST_SWING),
            miles: Miles::default(),
            trials: Trials::default(),
        }
    }
}

/// The watches at work.
pub struct Eyes<'a> {
    pub work: &'a Surveying,
    pub watches: &'a mut Watches,
    pub made: Made,
}

impl Watching for Eyes<'_> {
    fn reading(&mut self, at: Moment, reading: &Reading, monobloc_v: &[f64]) {
        self.watches.resistance.reading(&self.work.aboard(), at, reading, monobloc_v);
    }

    fn minute(&mut self, minute: &Minute) {
        let Watches { finder, capacity, resistance, balance, days, loops, rainflow, miles, trials } =
            &mut *self.watches;
        let aboard = &self.work.aboard();
        // A test's finding stands in for that of the same discharge, so it comes after it.
        capacity.minute(aboard, minute, &mut self.made.out);
        trials.minute(aboard, minute, capacity, &mut self.made);
        let out = &mut self.made.out;
        finder.minute(aboard, &self.work.rules, minute, &mut self.made.passages);
        resistance.minute(aboard, minute, out);
        balance.minute(aboard, minute, out);
        if let Some(changed_a) = days.minute(aboard, minute, out) {
            capacity.sensor_may_have_moved(aboard, changed_a);
        }
        loops.minute(aboard, minute, out);
        miles.minute(aboard, &self.work.rules, minute);
        if let Some(soc) = minute.soc {
            let closed = rainflow.take(minute.at, soc.soc);
            out.findings.extend(closed.into_iter().map(|swing| Finding::Cycle(cycle(swing))));
        }
    }

    fn fix(&mut self, fix: &FixMark) {
        let Watches { finder, capacity, balance, loops, .. } = &mut *self.watches;
        let (aboard, out) = (&self.work.aboard(), &mut self.made.out);
        finder.fix(fix);
        capacity.fix(aboard, fix, out);
        balance.fix(aboard, fix, out);
        loops.fix(aboard, fix, out);
    }
}

fn cycle(swing: Swing<Moment>) -> Cycle {
    let Swing { range, mean, count, from, to } = swing;
    Cycle { span: Span { from, to }, range, mean, count }
}
