//! All that watches over a bank, and what comes of it.

use serde::{Deserialize, Serialize};

use super::Surveying;
use super::walk::Watching;
use crate::health::balance::Balance;
use crate::health::resistance::Steps;
use crate::health::usage::{Days, Loops};
use crate::health::{Aboard, Findings, FixMark, Out};
use crate::passage::{Finder, Found};
use crate::quantity::{Minute, Moment, Reading};

/// What came of a stretch.
#[derive(Debug, Default)]
pub struct Made {
    pub out: Out,
    pub passages: Vec<Found>,
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
}

impl Watches {
    pub fn new(aboard: &Aboard<'_>) -> Watches {
        Watches {
            finder: Finder::default(),
            capacity: Findings::new(aboard),
            resistance: Steps::new(aboard),
            balance: Balance::new(aboard),
            days: Days::new(aboard),
            loops: Loops::new(aboard),
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
        let Watches { finder, capacity, resistance, balance, days, loops } = &mut *self.watches;
        let (aboard, out) = (&self.work.aboard(), &mut self.made.out);
        finder.minute(aboard, &self.work.rules, minute, &mut self.made.passages);
        capacity.minute(aboard, minute, out);
        resistance.minute(aboard, minute, out);
        balance.minute(aboard, minute, out);
        days.minute(aboard, minute, out);
        loops.minute(aboard, minute, out);
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
