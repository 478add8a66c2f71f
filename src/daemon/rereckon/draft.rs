//! Where a bank's line puts the results that are to replace the old ones.

use super::plan::Plan;
use crate::daemon::sink::Sink;
use crate::quantity::Sample;
use crate::reckoning::FixKind;
use crate::store::{Anchor, Checkpoint, EventRecord, FixRecord, Result, SeriesId, Unreadable, Writer, draft_of};

/// Stores under the draft's name what the plan renews. Samples of the device are stored already; events were told at their
/// time; what was done by hand stays as it was written down.
pub struct Draft<'a> {
    /// The writer of the store.
    pub writer: &'a mut Writer,
    /// Series of the main device.
    pub main: SeriesId,
    /// What is made anew.
    pub plan: &'a Plan,
    /// Anchors since this was last set back.
    pub anchors: usize,
}

impl Sink for Draft<'_> {
    /// A device's sample before what is renewed "was there already": it is reckoned, and what came of it stays.
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<bool> {
        let renewed = self.plan.renews(sample.at);
        if renewed && series != self.main {
            self.writer.append(series, sample)?;
        }
        Ok(renewed)
    }

    fn fix(&mut self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()> {
        if self.plan.renews(fix.at) && fix.kind != FixKind::Hand.word() {
            self.writer.fix(FixRecord { bank: draft_of(&fix.bank), ..fix })?;
        }
        anchor.map_or(Ok(()), |anchor| self.anchor(anchor))
    }

    fn anchor(&mut self, anchor: Anchor) -> Result<()> {
        if !self.plan.renews(anchor.at) {
            return Ok(());
        }
        self.anchors += 1;
        self.writer.anchor(Anchor { bank: draft_of(&anchor.bank), ..anchor })
    }

    fn event(&mut self, _: EventRecord) -> Result<()> {
        Ok(())
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        self.writer.checkpoint(Checkpoint { bank: draft_of(&checkpoint.bank), ..checkpoint })
    }

    fn reconciled(&mut self, series: SeriesId, points: Vec<Sample>, done: Option<i64>) -> Result<()> {
        self.writer.reconciled(series, &points, done)
    }

    fn set_aside(&mut self, row: Unreadable) -> Result<()> {
        self.writer.set_aside(&row)
    }
}
