//! What waits for the next commit, and how much of it memory may hold.

use std::collections::{BTreeMap, VecDeque};

use super::events::Events;
use super::written::Written;
use crate::clock::WallReading;
use crate::quantity::BootNo;
use crate::store::block::Closed;
use crate::store::record::{Anchor, Checkpoint, FixRecord, SeriesId};
use crate::store::unreadable::Unreadable;

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
    /// Rows of the tail to be set aside before anything is folded over them.
    pub(super) set_aside: Vec<Unreadable>,
}

pub(super) fn push_bounded<T>(queue: &mut VecDeque<T>, item: T) -> u64 {
    queue.push_back(item);
    let over = queue.len() > MAX_RECORDS;
    if over {
        queue.pop_front();
    }
    u64::from(over)
}
