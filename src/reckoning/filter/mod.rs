//! The filter. (Its seam; the estimator follows.)

use super::counter::Counter;
use super::reckoner::{Fix, Reckoned, Start, Suspicion, TimeOff};
use crate::battery::Bank;
use crate::quantity::Reading;

/// The filter on one bank.
#[derive(Debug, Clone)]
pub struct Filter(Counter);

impl Filter {
    /// A filter on a bank, with what is known of its charge.
    #[must_use]
    pub fn new(bank: Bank, start: Start) -> Filter {
        Filter(Counter::new(bank, start))
    }

    /// Whether a saved text is a filter's.
    #[must_use]
    pub const fn is_saved_state(_saved: &str) -> bool {
        false
    }

    /// A filter from a saved state.
    ///
    /// # Errors
    /// If the text is no saved state.
    pub fn resume(bank: Bank, saved: &str) -> serde_json::Result<Filter> {
        Counter::resume(bank, saved).map(Filter)
    }

    /// The state as JSON text.
    #[must_use]
    pub fn save(&self) -> String {
        self.0.save()
    }

    /// The bank.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        self.0.bank()
    }

    /// Whether a charger holds the bank full since its last full fix.
    #[must_use]
    pub const fn held_full(&self) -> bool {
        self.0.held_full()
    }

    /// See `Reckoner::run_on`.
    pub fn run_on(&mut self, off: TimeOff) {
        self.0.run_on(off);
    }

    /// See `Reckoner::time_off`.
    pub fn time_off(&mut self, off: TimeOff) {
        self.0.time_off(off);
    }

    /// See `Reckoner::hand_fix`.
    pub fn hand_fix(&mut self, soc: f64, std_dev: f64) -> Fix {
        self.0.hand_fix(soc, std_dev)
    }

    /// See `Reckoner::hand_zero`.
    pub const fn hand_zero(&mut self) -> Option<f64> {
        None
    }

    /// See `Reckoner::take_suspicion`.
    pub const fn take_suspicion(&mut self) -> Option<Suspicion> {
        None
    }

    /// See `Reckoner::step`.
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        self.0.step(reading)
    }

    /// See `Reckoner::report`.
    #[must_use]
    pub fn report(&self) -> Reckoned {
        self.0.report()
    }
}
