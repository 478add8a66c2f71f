//! Making samples safe without a commit, on the slate.

use std::io;
use std::sync::Arc;

use super::{CommitReport, Writer};
use crate::store::error::Result;
use crate::store::slate::{self, Slate, Stretch};

/// A note longer than this costs more than a commit, which makes the next ones short again: bytes.
const COMFORTABLE_BYTES: usize = 8 << 10;

impl Writer {
    /// Makes everything taken so far safe, at the least cost to the card: samples by a note on the slate; by a commit if
    /// a record or a closed hour waits, if the note would be long, or if the slate cannot be written.
    ///
    /// # Errors
    /// As [`Writer::commit`]. What waits is kept; its samples are on the slate then, as far as that can be written.
    pub fn secure(&mut self) -> Result<CommitReport> {
        let notes = self.waiting();
        let bytes: usize = notes.iter().map(|stretch| stretch.data.len()).sum();
        if self.pending.is_urgent() || bytes > COMFORTABLE_BYTES {
            let committed = self.commit();
            if committed.is_err() && matches!(self.note_down(notes), Ok(true)) {
                self.mark_secured();
            }
            return committed;
        }
        let samples = self.waiting_samples();
        if samples > 0 {
            match self.note_down(notes) {
                Ok(true) => self.mark_secured(),
                _ => return self.commit(),
            }
        }
        Ok(CommitReport { samples, chunks: 0, ..self.tallies() })
    }

    /// The samples that are in no commit yet, packed; for notes, and for readers who want to see them.
    #[must_use]
    pub fn waiting(&self) -> Vec<Stretch> {
        let closed = self.pending.closed.iter().filter(|(_, _, closed)| closed.in_tail < closed.count);
        let closed = closed.map(|(series, boot, closed)| {
            let (first_mono_ms, data) = match &closed.not_in_tail {
                Some((first_ms, rest)) => (*first_ms, rest),
                None => (closed.first_ms, &closed.chunk),
            };
            let count = closed.count - closed.in_tail;
            Stretch { series: *series, boot: *boot, first_mono_ms, count, data: Arc::from(data.as_slice()) }
        });
        let open = self.series.iter().filter_map(|(series, state)| {
            let block = &state.block;
            let (boot, first) = state.boot.zip(block.columns.time_ms.get(block.written))?;
            let count = block.len() - block.written;
            let data = block.packed_from(block.written).into();
            Some(Stretch { series: *series, boot, first_mono_ms: *first, count, data })
        });
        closed.chain(open).collect()
    }

    /// The mark of the last commit, which [`Writer::waiting`] follows.
    pub(in crate::store) const fn mark(&self) -> i64 {
        self.mark
    }

    /// Makes the slate while there is room for it. Where there is none, the first note tries again.
    pub(in crate::store) fn lay_out_slate(&mut self) {
        self.slate = Slate::open(&slate::path_of(&self.path)).ok();
    }

    fn note_down(&mut self, notes: Vec<Stretch>) -> io::Result<bool> {
        let mut slate = match self.slate.take() {
            Some(slate) => slate,
            None => Slate::open(&slate::path_of(&self.path))?,
        };
        let noted = slate.write(self.mark, notes);
        self.slate = Some(if noted.is_ok() { slate } else { slate.opened_anew() });
        noted
    }

    fn mark_secured(&mut self) {
        for state in self.series.values_mut() {
            state.block.secured = state.block.len();
        }
        for (_, _, closed) in &mut self.pending.closed {
            closed.secured = closed.count;
        }
    }
}
