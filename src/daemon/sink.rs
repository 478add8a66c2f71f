//! Where records go.

use crate::quantity::Sample;
use crate::store::{Checkpoint, EventRecord, FixRecord, Result, SeriesId, Writer, WriterHandle};

/// Takes records: the store's thread while live, the writer itself when a recorded past is stored.
pub trait Sink {
    /// Takes a sample of a series.
    ///
    /// # Errors
    /// If the store refuses it.
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()>;
    /// Takes a fix.
    ///
    /// # Errors
    /// If the store refuses it.
    fn fix(&mut self, fix: FixRecord) -> Result<()>;
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
}

impl Sink for Writer {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()> {
        self.append(series, sample).map(drop)
    }

    fn fix(&mut self, fix: FixRecord) -> Result<()> {
        Writer::fix(self, fix)
    }

    fn event(&mut self, event: EventRecord) -> Result<()> {
        Writer::event(self, event)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        Writer::checkpoint(self, checkpoint)
    }
}

impl Sink for WriterHandle {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()> {
        self.append(series, sample.clone())
    }

    fn fix(&mut self, fix: FixRecord) -> Result<()> {
        WriterHandle::fix(self, fix)
    }

    fn event(&mut self, event: EventRecord) -> Result<()> {
        WriterHandle::event(self, event)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        WriterHandle::checkpoint(self, checkpoint)
    }
}
