//! All that watches over a bank, and what comes of it.

use serde::{Deserialize, Serialize};

use super::Surveying;
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

    /// A sample of the main device; `monobloc_v` is NaN where none is known.
    pub fn reading(&mut self, _aboard: &Aboard<'_>, _at: Moment, _reading: &Reading, _monobloc_v: &[f64]) {}

    /// A minute, after its samples.
    pub fn minute(&mut self, work: &Surveying, minute: &Minute, made: &mut Made) {
        self.finder.minute(&work.aboard(), &work.rules, minute, &mut made.passages);
    }

    /// A fix, after the minute that holds it.
    pub fn fix(&mut self, _work: &Surveying, fix: &FixMark, _made: &mut Made) {
        self.finder.fix(fix);
    }
}
