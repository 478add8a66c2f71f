//! Thinning of what waits while the card takes nothing for so long that memory would run out.

use super::pending::Pending;
use crate::store::block::Closed;
use crate::store::codec;

/// Of a chunk that is thinned every so many samples stay, each time.
const KEEP_EVERY: usize = 4;
/// How often a chunk is thinned before it is dropped: a device at 1 Hz is left with a sample a minute then, which is no
/// more than its summaries by minutes say.
const MOST_TIMES: u8 = 3;

/// What memory could not hold.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Shed {
    /// Samples thinned out; the summaries still count them.
    pub(super) thinned: u64,
    /// Samples of chunks that were dropped.
    pub(super) lost: u64,
}

impl Pending {
    /// Makes what waits fit into `bytes`: the chunks that were thinned least, of these the oldest, keep a quarter of their
    /// samples; at last the oldest are dropped. Summaries stay those of all samples. A chunk of which rows are already in
    /// the tail stays as it is, so that those rows are folded one day.
    pub(super) fn shed(&mut self, bytes: usize) -> Shed {
        let mut shed = Shed::default();
        let mut total: usize = self.closed.iter().map(|(_, _, closed)| size(closed)).sum();
        while total > bytes {
            let free = self.closed.iter().enumerate().filter(|(_, (_, _, closed))| closed.in_tail == 0);
            let Some((place, times)) =
                free.map(|(place, (_, _, closed))| (place, closed.times_thinned)).min_by_key(|(_, times)| *times)
            else {
                break;
            };
            let closed = &mut self.closed[place].2;
            total -= size(closed);
            if times < MOST_TIMES && closed.count > 1 {
                shed.thinned += thin(closed);
                total += size(closed);
            } else {
                shed.lost += closed.count as u64;
                self.closed.remove(place);
            }
        }
        shed
    }
}

fn size(closed: &Closed) -> usize {
    // The set-up of a row and its summaries in memory (assumed), so that a great many small chunks are bounded too.
    const ROW_BYTES: usize = 1000;
    ROW_BYTES + closed.chunk.len() + closed.minutes.as_ref().map_or(0, Vec::len)
}

/// Keeps the first of every few samples, and the last, where the next interval begins; tells how many went.
fn thin(closed: &mut Closed) -> u64 {
    let columns = codec::decode(&closed.chunk, |_| true).expect("packed by this very program, in memory since");
    let last = closed.count - 1;
    let keep = |row: usize| row.is_multiple_of(KEEP_EVERY) || row == last;
    let kept = |row: &usize| keep(*row);
    let time_ms: Vec<i64> = (0..closed.count).filter(kept).map(|row| columns.time_ms[row]).collect();
    let channels: Vec<Vec<f64>> =
        columns.channels.iter().map(|values| (0..closed.count).filter(kept).map(|row| values[row]).collect()).collect();
    let channels: Vec<&[f64]> = channels.iter().map(Vec::as_slice).collect();
    let gone = closed.count - time_ms.len();
    closed.chunk = codec::encode(&time_ms, &channels);
    closed.count = time_ms.len();
    closed.secured = closed.secured.min(closed.count);
    closed.times_thinned += 1;
    gone as u64
}
