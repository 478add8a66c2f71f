//! The seam between a method of reckoning and everything that uses it.

use super::counter::Counter;
use super::filter::Filter;
use super::terms::{Fix, Method, Reckoned, ResumeError, Start, Suspicion, TimeOff, ZeroRefused};
use crate::battery::Bank;
use crate::quantity::Reading;

/// A method at work on one bank.
#[derive(Debug, Clone)]
pub enum Reckoner {
    /// See [`Filter`].
    Filter(Box<Filter>),
    /// See [`Counter`].
    Counter(Box<Counter>),
}

impl Reckoner {
    /// Begins with a method and what is known of the start.
    #[must_use]
    pub fn begin(method: Method, bank: Bank, start: Start) -> Reckoner {
        match method {
            Method::Filter => Reckoner::Filter(Box::new(Filter::new(bank, start))),
            Method::Counter => Reckoner::Counter(Box::new(Counter::new(bank, start))),
        }
    }

    /// Takes up a state saved by [`Self::save`], after some time off. The method is that of the saved state.
    ///
    /// # Errors
    /// [`ResumeError`] if the text is no such state.
    pub fn resume(bank: Bank, saved: &str, off: TimeOff) -> Result<Reckoner, ResumeError> {
        let name = bank.name.clone();
        let resumed = if Filter::is_saved_state(saved) {
            Filter::resume(bank, saved).map(|filter| Reckoner::Filter(Box::new(filter)))
        } else {
            Counter::resume(bank, saved).map(|counter| Reckoner::Counter(Box::new(counter)))
        };
        let mut reckoner = resumed.map_err(|cause| ResumeError { bank: name, cause })?;
        reckoner.run_on(off);
        reckoner.time_off(off);
        Ok(reckoner)
    }

    /// The state was saved a little before the watch ended, and the load does not end with the watch: it may have run on
    /// for as long as is bridged between readings. To be told before [`Self::time_off`].
    pub fn run_on(&mut self, off: TimeOff) {
        match self {
            Reckoner::Filter(filter) => filter.run_on(off),
            Reckoner::Counter(counter) => counter.run_on(off),
        }
    }

    /// Nobody looked for a while: the estimate stays but for self-discharge, the band widens by what may have flowed.
    pub fn time_off(&mut self, off: TimeOff) {
        match self {
            Reckoner::Filter(filter) => filter.time_off(off),
            Reckoner::Counter(counter) => counter.time_off(off),
        }
    }

    /// Somebody knows the state of charge, to `std_dev` (1 σ, ratio).
    ///
    /// The method takes it as a fix, whatever it reckoned before.
    pub fn hand_fix(&mut self, soc: f64, std_dev: f64) -> Fix {
        match self {
            Reckoner::Filter(filter) => filter.hand_fix(soc, std_dev),
            Reckoner::Counter(counter) => counter.hand_fix(soc, std_dev),
        }
    }

    /// Somebody knows that no current flows now: what the sensor reads is its offset. Returns that offset, A.
    ///
    /// # Errors
    /// [`ZeroRefused`], and nothing is changed.
    pub fn hand_zero(&mut self) -> Result<f64, ZeroRefused> {
        match self {
            Reckoner::Filter(filter) => filter.hand_zero(),
            Reckoner::Counter(_) => Err(ZeroRefused::NotLearned),
        }
    }

    /// What the readings contradict, once when it is found.
    pub fn take_suspicion(&mut self) -> Option<Suspicion> {
        match self {
            Reckoner::Filter(filter) => filter.take_suspicion(),
            Reckoner::Counter(_) => None,
        }
    }

    /// The whole state as JSON text, for a checkpoint.
    #[must_use]
    pub fn save(&self) -> String {
        match self {
            Reckoner::Filter(filter) => filter.save(),
            Reckoner::Counter(counter) => counter.save(),
        }
    }

    /// The method's word.
    #[must_use]
    pub const fn method(&self) -> Method {
        match self {
            Reckoner::Filter(_) => Method::Filter,
            Reckoner::Counter(_) => Method::Counter,
        }
    }

    /// The bank being reckoned.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        match self {
            Reckoner::Filter(filter) => filter.bank(),
            Reckoner::Counter(counter) => counter.bank(),
        }
    }

    /// Takes the next reading; a fix that it brought is returned.
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        match self {
            Reckoner::Filter(filter) => filter.step(reading),
            Reckoner::Counter(counter) => counter.step(reading),
        }
    }

    /// Whether a charger holds the bank full since its last full fix: the fix is good until it lets go.
    #[must_use]
    pub const fn held_full(&self) -> bool {
        match self {
            Reckoner::Filter(filter) => filter.held_full(),
            Reckoner::Counter(counter) => counter.held_full(),
        }
    }

    /// The state as reckoned up to the last reading.
    #[must_use]
    pub fn report(&self) -> Reckoned {
        match self {
            Reckoner::Filter(filter) => filter.report(),
            Reckoner::Counter(counter) => counter.report(),
        }
    }
}
