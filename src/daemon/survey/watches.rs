//! All that watches over a bank, and what comes of it.

use serde::{Deserialize, Serialize};

use super::Surveying;
use super::walk::Watching;
use crate::health::{Aboard, FixMark, Out};
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
}

impl Watches {
    pub fn new(_aboard: &Aboard<'_>) -> Watches {
        Watches { finder: Finder::default() }
    }

}

/// The watches at work.
pub struct Eyes<'a> {
    pub work: &'a Surveying,
    pub watches: &'a mut Watches,
    pub made: Made,
}

impl Watching for Eyes<'_> {
    fn reading(&mut self, _at: Moment, _reading: &Reading, _monobloc_v: &[f64]) {}

    fn minute(&mut self, minute: &Minute) {
        let (watches, made) = (&mut *self.watches, &mut self.made);
        watches.finder.minute(&self.work.aboard(), &self.work.rules, minute, &mut made.passages);
    }

    fn fix(&mut self, fix: &FixMark) {
        self.watches.finder.fix(fix);
    }
}
