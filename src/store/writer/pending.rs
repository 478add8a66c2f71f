//! What waits for the next commit, and how much of it memory may hold.

use std::collections::{BTreeMap, VecDeque};

use super::events::Events;
use super::written::Written;
use crate::clock::WallReading;
use crate::quantity::BootNo;
use crate::store::block::Closed;
use crate::store::record::{Anchor, Checkpoint, FixRecord, SeriesId};

/// Most fixes or clock fixes that wait in memory while the card takes nothing.
pub(super) const MAX_RECORDS: usize = 10_000;

/// What waits for the next commit, beside the open blocks.
#[derive(Debug, Default)]
pub(super) struct Pending {
    pub(super) closed: VecDeque<(SeriesId, BootNo, Closed)>,
    pub(super) fixes: VecDeque<FixRecord>,
    pub(super) anchors: VecDeque<Anchor>,
    /// Anchors whose runs are reconciled.
    pub(super) done_anchors: Vec<i64>,
    pub(super) clock_fixes: VecDeque<(BootNo, WallReading, String)>,
    pub(super) checkpoints: BTreeMap<String, Checkpoint>,
    pub(super) events: Events,
    /// Bytes handed to the card.
    pub(super) written: Written,
}

impl Pending {
    /// Drops the oldest chunks until the rest fits into `bytes`; tells how many samples that lost. A chunk of which
    /// rows are already in the tail stays, so that those rows are folded one day.
    pub(super) fn shed(&mut self, bytes: usize) -> u64 {
        let size = |closed: &Closed| closed.chunk.len() + closed.minutes.as_ref().map_or(0, Vec::len);
        let mut total: usize = self.closed.iter().map(|(_, _, closed)| size(closed)).sum();
        let mut lost = 0;
        while total > bytes
            && let Some(oldest) = self.closed.iter().position(|(_, _, c)| c.in_tail == 0)
            && let Some((_, _, closed)) = self.closed.remove(oldest)
        {
            total -= size(&closed);
            lost += closed.count as u64;
        }
        lost
    }
}

pub(super) fn push_bounded<T>(queue: &mut VecDeque<T>, item: T) -> u64 {
    queue.push_back(item);
    let over = queue.len() > MAX_RECORDS;
    if over {
        queue.pop_front();
    }
    u64::from(over)
}
