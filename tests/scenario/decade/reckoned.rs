//! What a bank's line makes of samples, on its way from the thread that reckons to the one that stores.

use taffrail::daemon::Sink;
use taffrail::quantity::Sample;
use taffrail::store::{Anchor, Checkpoint, EventRecord, FixRecord, Result, SeriesId, Unreadable, Writer};

/// What came of an hour of samples.
#[derive(Debug)]
pub struct Reckoned {
    /// The series whose samples are stored beside, and not kept here.
    main: SeriesId,
    records: Vec<Record>,
}

#[derive(Debug)]
enum Record {
    Sample(SeriesId, Sample),
    Fix(FixRecord, Option<Anchor>),
    Anchor(Anchor),
    Event(EventRecord),
    Checkpoint(Checkpoint),
}

impl Reckoned {
    /// Nothing so far; samples of this series are stored by somebody else.
    pub fn beside(main: SeriesId) -> Reckoned {
        Reckoned { main, records: Vec::new() }
    }

    /// Gives everything to the writer, in the order in which it came.
    pub fn store(self, writer: &mut Writer) -> Result<()> {
        self.records.into_iter().try_for_each(|record| match record {
            Record::Sample(series, sample) => writer.sample(series, &sample).map(drop),
            Record::Fix(fix, anchor) => Sink::fix(writer, fix, anchor),
            Record::Anchor(anchor) => Sink::anchor(writer, anchor),
            Record::Event(event) => Sink::event(writer, event),
            Record::Checkpoint(checkpoint) => Sink::checkpoint(writer, checkpoint),
        })
    }

    fn keep(&mut self, record: Record) -> Result<()> {
        self.records.push(record);
        Ok(())
    }
}

impl Sink for Reckoned {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<bool> {
        if series != self.main {
            self.records.push(Record::Sample(series, sample.clone()));
        }
        Ok(true)
    }

    fn fix(&mut self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()> {
        self.keep(Record::Fix(fix, anchor))
    }

    fn anchor(&mut self, anchor: Anchor) -> Result<()> {
        self.keep(Record::Anchor(anchor))
    }

    fn event(&mut self, event: EventRecord) -> Result<()> {
        self.keep(Record::Event(event))
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        self.keep(Record::Checkpoint(checkpoint))
    }

    /// A line reconciles nothing.
    fn reconciled(&mut self, _series: SeriesId, _points: Vec<Sample>, _done: Option<i64>) -> Result<()> {
        Ok(())
    }

    /// A line reads nothing.
    fn set_aside(&mut self, _row: Unreadable) -> Result<()> {
        Ok(())
    }
}
