//! The survey: a bank's stored samples looked at once, in the order in which the bank lived them, by everything that keeps a
//! record over years: passages, capacity, resistance, balance, use, cycles.
//!
//! Where a look ended is kept with what it found, in one transaction ([`crate::store::SurveyBatch`]), together with the
//! state of every watch: the next look goes on there, and one that is cut short is as if its last stretch had not been
//! looked at. A look ends where a minute is complete. What was looked at is looked at again, all of it, where the results
//! of the reckoning were replaced, where something was brought in that lies before ([`course`]), and where the description
//! of the bank is another; what was marked by hand stays. Events are told once all the same.

mod asked;
mod course;
mod feed;
mod instruments;
mod look;
mod shelf;
mod summaries;
pub mod task;
mod trials;
mod walk;
mod watches;

use std::path::Path;

use tokio_util::sync::CancellationToken;

pub use asked::{start_test, stop_test};
pub use shelf::Shelf;

use crate::battery::{Bank, Branch};
use crate::config::Config;
use crate::health::Aboard;
use crate::passage::Rules;
use crate::store::{EventRecord, Reader, Result};
use instruments::Instruments;

/// A bank whose samples are looked at.
#[derive(Debug, Clone)]
pub struct Surveying {
    /// The bank.
    pub bank: Bank,
    /// Its branches, in the order of the configuration.
    pub branches: Vec<Branch>,
    /// What makes a passage of it.
    pub rules: Rules,
    /// Name of the series of its main device.
    pub main: String,
}

impl Surveying {
    /// A bank of a configuration, with the name of the series of its main device.
    #[must_use]
    pub fn of(config: &Config, bank: &Bank, main: String) -> Surveying {
        let branches = config.branches_of(&bank.name);
        let rules = config.passage_rules(&bank.name).unwrap_or_else(|| Rules::of(bank));
        Surveying { bank: bank.clone(), branches, rules, main }
    }

    fn aboard(&self) -> Aboard<'_> {
        Aboard { bank: &self.bank, branches: &self.branches }
    }
}

/// How far a look is, by the time that lies between the first and the last sample.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Looked {
    /// Looked at, ms.
    pub done_ms: u64,
    /// All of it, ms.
    pub total_ms: u64,
}

/// What came of a look.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Surveyed {
    /// False if it was stopped before the end.
    pub complete: bool,
    /// True if everything was looked at anew.
    pub anew: bool,
    /// True if a capacity test is running.
    pub testing: bool,
    /// Time that was looked at, ms.
    pub looked_ms: u64,
    /// What people are to be told, stored already.
    pub events: Vec<EventRecord>,
    /// What could not be taken into account, for people.
    pub notes: Vec<String>,
}

/// Looks at what is stored of a bank and was not looked at yet, until `stop`; `progress` is told now and then.
///
/// # Errors
/// What the store reports; what was kept until then stays.
pub fn survey(
    store_path: &Path,
    work: &Surveying,
    shelf: &mut impl Shelf,
    stop: &CancellationToken,
    progress: &mut dyn FnMut(&Looked),
) -> Result<Surveyed> {
    let reader = Reader::open(store_path)?;
    let mut surveyed = Surveyed::default();
    let Some(instruments) = Instruments::find(&reader, work)? else {
        return Ok(Surveyed { complete: true, ..surveyed });
    };
    let look = look::Look { reader: &reader, work, instruments: &instruments, stop };
    let course = look.course()?;
    surveyed.notes.extend(course.left_out.iter().map(|boot| {
        format!(
            "{}: a trace that was brought in (boot {}) is of a time of which there are samples already; it is in the store, \
             not in the record of passages and health",
            work.bank.title, boot.0
        )
    }));
    if let Some(at) = look.all(&course, shelf, &mut surveyed, progress)? {
        surveyed.complete = summaries::work_out(&look, &course, at, shelf)?;
    }
    for row in reader.take_unreadable() {
        surveyed.notes.push(format!("{}: {}", work.bank.title, row.text()));
        if !row.aside {
            shelf.put_aside(row)?;
        }
    }
    Ok(surveyed)
}

#[cfg(test)]
mod tests;
