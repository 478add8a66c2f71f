//! Where records go.

use crate::quantity::Sample;
use crate::store::{
    Anchor, Appended, Checkpoint, EventRecord, FixRecord, Result, SeriesId, Unreadable, Writer, WriterHandle,
};

/// Takes records: the store's thread while live, the writer itself when a recorded past is stored.
pub trait Sink {
    /// Takes a sample of a series; false if it is known to have been there already.
    ///
    /// # Errors
    /// If the store refuses it.
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<bool>;
    /// Takes a fix, and the anchor of the run that begins there.
    ///
    /// # Errors
    /// If the store refuses it.
    fn fix(&mut self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()>;
    /// Takes an anchor where reckoning begins anew.
    ///
    /// # Errors
    /// If the store refuses it.
    fn anchor(&mut self, anchor: Anchor) -> Result<()>;
    /// Takes an event.
    ///
    /// # Errors
    /// If the store refuses it.
    fn event(&mut self, event: EventRecord) -> Result<()>;
    /// Takes a saved state.
    ///
    /// # Errors
    /// If the store refuses it.
    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()>;
    /// Takes reconciled points; with the last ones of a run, the anchor `done` that it began at goes in the same commit.
    ///
    /// # Errors
    /// If the store refuses them.
    fn reconciled(&mut self, series: SeriesId, points: Vec<Sample>, done: Option<i64>) -> Result<()>;
    /// Has a row set aside that could not be read.
    ///
    /// # Errors
    /// If the store cannot do so.
    fn set_aside(&mut self, row: Unreadable) -> Result<()>;
}

impl Sink for Writer {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<bool> {
        self.append(series, sample).map(|appended| appended == Appended::Taken)
    }

    fn fix(&mut self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()> {
        Writer::fix(self, fix)?;
        anchor.map_or(Ok(()), |anchor| Writer::anchor(self, anchor))
    }

    fn anchor(&mut self, anchor: Anchor) -> Result<()> {
        Writer::anchor(self, anchor)
    }

    fn event(&mut self, event: EventRecord) -> Result<()> {
        Writer::event(self, event)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        Writer::checkpoint(self, checkpoint)
    }

    /// Commits what it takes, so that memory holds no more than that.
    fn reconciled(&mut self, series: SeriesId, points: Vec<Sample>, done: Option<i64>) -> Result<()> {
        Writer::reconciled(self, series, &points, done)?;
        self.commit().map(drop)
    }

    fn set_aside(&mut self, row: Unreadable) -> Result<()> {
        Writer::set_aside(self, &row)
    }
}

impl Sink for WriterHandle {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<bool> {
        self.append(series, sample.clone()).map(|()| true)
    }

    fn fix(&mut self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()> {
        WriterHandle::fix(self, fix, anchor)
    }

    fn anchor(&mut self, anchor: Anchor) -> Result<()> {
        WriterHandle::anchor(self, anchor)
    }

    fn event(&mut self, event: EventRecord) -> Result<()> {
        WriterHandle::event(self, event)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        WriterHandle::checkpoint(self, checkpoint)
    }

    fn reconciled(&mut self, series: SeriesId, points: Vec<Sample>, done: Option<i64>) -> Result<()> {
        WriterHandle::reconciled(self, series, points, done)
    }

    fn set_aside(&mut self, row: Unreadable) -> Result<()> {
        WriterHandle::set_aside(self, row)
    }
}
