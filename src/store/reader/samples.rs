//! Every sample between two times, one after the other.

use super::Reader;
use super::columns::{ColumnWalk, SampleColumns};
use crate::quantity::{Moment, MonoMs, Sample, UtcMs};
use crate::store::error::Result;
use crate::store::record::SeriesId;

/// A sample with the UTC of its moment.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredSample {
    /// UTC of its moment, by the clock fixes known now.
    pub utc: UtcMs,
    /// False if the clock was not believed.
    pub trusted: bool,
    /// The sample; values by position of the channel.
    pub sample: Sample,
}

/// Samples of a series in the order of boot and monotonic time: a [`ColumnWalk`], row by row, which goes on over what
/// cannot be read.
pub struct Samples<'r> {
    walk: ColumnWalk<'r>,
    channels: usize,
    /// Next row of the present stretch, and how many it has.
    row: usize,
    rows: usize,
}

impl Reader {
    /// Every committed sample of a series between two times. [`Reader::columns`] is several times as fast.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], or what SQLite reports.
    pub fn samples(&self, id: SeriesId, from: UtcMs, to: UtcMs) -> Result<Samples<'_>> {
        self.rows_of(id, self.columns(id, from, to)?)
    }

    /// Every committed sample of a series from one moment to another, both included, as the bank lived them: traces that
    /// were brought in meanwhile are left out.
    ///
    /// # Errors
    /// As [`Reader::samples`].
    pub fn run(&self, id: SeriesId, from: Moment, to: Moment) -> Result<Samples<'_>> {
        self.rows_of(id, self.run_columns(id, from, to)?)
    }

    fn rows_of<'r>(&self, id: SeriesId, walk: ColumnWalk<'r>) -> Result<Samples<'r>> {
        Ok(Samples { walk, channels: self.series(id)?.channels.len(), row: 0, rows: 0 })
    }
}

impl Iterator for Samples<'_> {
    type Item = Result<StoredSample>;

    fn next(&mut self) -> Option<Self::Item> {
        if self.row == self.rows {
            self.row = 0;
            self.rows = match self.walk.advance() {
                Ok(stretch) => stretch?.time_ms().len(),
                Err(error) => {
                    // Not a chunk but the store cannot be read: the rest is left for a new question.
                    self.walk.end();
                    self.rows = 0;
                    return Some(Err(error));
                }
            };
        }
        let sample = sample_at(&self.walk.present()?, self.row, self.channels);
        self.row += 1;
        Some(Ok(sample))
    }
}

fn sample_at(stretch: &SampleColumns<'_>, row: usize, channels: usize) -> StoredSample {
    let mono = MonoMs(stretch.time_ms()[row]);
    let value = |position| stretch.channel(position).map(|values| values[row]).filter(|value| !value.is_nan());
    StoredSample {
        utc: stretch.utc(mono),
        trusted: stretch.trusted(),
        sample: Sample { at: Moment { boot: stretch.boot(), mono }, values: (0..channels).map(value).collect() },
    }
}
