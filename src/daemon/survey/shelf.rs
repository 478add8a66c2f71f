//! Where the results of a survey go.

use crate::passage::Summary;
use crate::quantity::Moment;
use crate::store::{Result, SurveyBatch, TestState, Unreadable, Writer, WriterHandle};

/// Takes results: the store's thread while live, the writer itself where nobody else works on the store. On a handle these
/// wait for the card and must not be called from an asynchronous task.
pub trait Shelf {
    /// [`Writer::keep_survey`].
    ///
    /// # Errors
    /// As there.
    fn keep_survey(&mut self, batch: SurveyBatch) -> Result<()>;
    /// [`Writer::forget_survey`].
    ///
    /// # Errors
    /// As there.
    fn forget_survey(&mut self, bank: &str) -> Result<()>;
    /// [`Writer::keep_summary`].
    ///
    /// # Errors
    /// As there.
    fn keep_summary(&mut self, id: i64, summary: Summary, settled: bool) -> Result<()>;
    /// [`Writer::begin_test`].
    ///
    /// # Errors
    /// As there.
    fn begin_test(&mut self, bank: &str, at: Moment, body: String) -> Result<i64>;
    /// [`Writer::change_test`].
    ///
    /// # Errors
    /// As there.
    fn change_test(&mut self, id: i64, state: TestState, body: String) -> Result<()>;
    /// [`Writer::set_aside`].
    ///
    /// # Errors
    /// As there.
    fn put_aside(&mut self, row: Unreadable) -> Result<()>;
}

impl Shelf for Writer {
    fn keep_survey(&mut self, batch: SurveyBatch) -> Result<()> {
        Writer::keep_survey(self, &batch)
    }

    fn forget_survey(&mut self, bank: &str) -> Result<()> {
        Writer::forget_survey(self, bank)
    }

    fn keep_summary(&mut self, id: i64, summary: Summary, settled: bool) -> Result<()> {
        Writer::keep_summary(self, id, &summary, settled)
    }

    fn begin_test(&mut self, bank: &str, at: Moment, body: String) -> Result<i64> {
        Writer::begin_test(self, bank, at, &body)
    }

    fn change_test(&mut self, id: i64, state: TestState, body: String) -> Result<()> {
        Writer::change_test(self, id, state, &body)
    }

    fn put_aside(&mut self, row: Unreadable) -> Result<()> {
        self.set_aside(&row)
    }
}

impl Shelf for WriterHandle {
    fn keep_survey(&mut self, batch: SurveyBatch) -> Result<()> {
        self.at_once_blocking(move |writer| writer.keep_survey(&batch))
    }

    fn forget_survey(&mut self, bank: &str) -> Result<()> {
        let bank = bank.to_owned();
        self.at_once_blocking(move |writer| writer.forget_survey(&bank))
    }

    fn keep_summary(&mut self, id: i64, summary: Summary, settled: bool) -> Result<()> {
        self.at_once_blocking(move |writer| writer.keep_summary(id, &summary, settled))
    }

    fn begin_test(&mut self, bank: &str, at: Moment, body: String) -> Result<i64> {
        let bank = bank.to_owned();
        self.at_once_blocking(move |writer| writer.begin_test(&bank, at, &body))
    }

    fn change_test(&mut self, id: i64, state: TestState, body: String) -> Result<()> {
        self.at_once_blocking(move |writer| writer.change_test(id, state, &body))
    }

    fn put_aside(&mut self, row: Unreadable) -> Result<()> {
        self.set_aside(row)
    }
}
