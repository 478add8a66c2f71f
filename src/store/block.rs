//! The open stretch of a series in memory, and what becomes of it when it closes.

use super::codec::{self, Columns};
use super::summary::{Carry, DAY_MS, HOUR_MS, MINUTE_MS, Summary, by_span, coarser, power_of, start_of};
use crate::quantity::Unit;

/// Fewest samples that are folded into a chunk when the hour closes: below this the set-up of the compressed columns
/// weighs too much, so a slow series waits for the next hours.
pub(super) const FOLD_FROM: usize = 600;

/// Position under which the derived power is summarised; stored channels stay below it.
pub(super) const POWER: i64 = 1000;

/// Place of a channel in the carry and, times four, in the columns of the minute summaries: power first (empty where
/// it is not derived), so that a channel which a device gains later moves nothing.
pub(super) fn slot(channel: i64) -> usize {
    if channel == POWER { 0 } else { 1 + usize::try_from(channel).expect("positions are not negative") }
}

/// Columns per channel in the minute summaries: count, minimum, maximum, mean.
pub(super) const MINUTE_COLUMNS: usize = 4;

/// Smallest step to which derived power is rounded in the minute summaries, so that it packs: watts.
const POWER_STEP_DECIMALS: i32 = 1;

/// What the store needs to know of a series to keep it.
#[derive(Debug, Clone)]
pub(super) struct Layout {
    /// Unit of each stored channel, by position.
    pub(super) units: Vec<Unit>,
    /// Positions of voltage and current, if power is to be derived from them.
    pub(super) power_from: Option<(usize, usize)>,
    pub(super) gap_ms: i64,
}

/// Samples of one series and boot that are not yet in a chunk.
#[derive(Debug, Clone, Default)]
pub(super) struct Block {
    pub(super) columns: Columns,
    /// The first so many are already in rows of the tail.
    pub(super) written: usize,
    /// The first so many are safe: in rows of the tail, or on the slate.
    pub(super) secured: usize,
}

/// A stretch ready to be written as a chunk.
#[derive(Debug, Clone)]
pub(super) struct Closed {
    pub(super) first_ms: i64,
    pub(super) last_ms: i64,
    pub(super) count: usize,
    /// How many were taken; more than `count` once it was thinned.
    pub(super) taken: usize,
    pub(super) times_thinned: u8,
    /// How many of them are already safe in rows of the tail.
    pub(super) in_tail: usize,
    /// How many of them are safe there or on the slate.
    pub(super) secured: usize,
    /// Those that no row of the tail holds, packed; `None` if the chunk is just that.
    pub(super) not_in_tail: Option<(i64, Vec<u8>)>,
    pub(super) chunk: Vec<u8>,
    pub(super) minutes: Option<Vec<u8>>,
    pub(super) hours: Vec<ChannelSummary>,
    pub(super) days: Vec<ChannelSummary>,
}

/// One row of the hour or day summaries.
#[derive(Debug, Clone, Copy)]
pub(super) struct ChannelSummary {
    pub(super) channel: i64,
    pub(super) start_ms: i64,
    pub(super) summary: Summary,
    /// Whether the integrals mean something.
    pub(super) integrated: bool,
}

impl Block {
    pub(super) fn len(&self) -> usize {
        self.columns.time_ms.len()
    }

    /// True if a sample at `time_ms` belongs to the next stretch.
    pub(super) fn closes_before(&self, time_ms: i64) -> bool {
        let Some(&last) = self.columns.time_ms.last() else {
            return false;
        };
        let new_hour = start_of(time_ms, HOUR_MS) != start_of(last, HOUR_MS);
        (new_hour && self.len() >= FOLD_FROM) || self.len() >= codec::MAX_COUNT
    }

    /// Makes the block as wide as its series; channels that are new had no values so far.
    pub(super) fn widen(&mut self, channels: usize) {
        let rows = self.len();
        if self.columns.channels.len() < channels {
            self.columns.channels.resize_with(channels, || vec![f64::NAN; rows]);
        }
    }

    /// Rows from `from` on, packed.
    pub(super) fn packed_from(&self, from: usize) -> Vec<u8> {
        let channels: Vec<&[f64]> = self.columns.channels.iter().map(|c| &c[from..]).collect();
        codec::encode(&self.columns.time_ms[from..], &channels)
    }

    /// What no row of the tail holds, where that is not the whole block: where it begins, and the samples packed.
    fn rest(&self) -> Option<(i64, Vec<u8>)> {
        let first_ms = *self.columns.time_ms.get(self.written)?;
        (self.written > 0).then(|| (first_ms, self.packed_from(self.written)))
    }

    /// Appends one row of unpacked ones.
    pub(super) fn push_row(&mut self, more: &Columns, row: usize) {
        self.widen(more.channels.len());
        self.columns.time_ms.push(more.time_ms[row]);
        for (position, column) in self.columns.channels.iter_mut().enumerate() {
            column.push(more.channels.get(position).map_or(f64::NAN, |values| values[row]));
        }
    }

    /// Appends unpacked rows.
    pub(super) fn extend(&mut self, more: &Columns) {
        self.widen(more.channels.len());
        self.columns.time_ms.extend(&more.time_ms);
        let rows = self.len();
        for (position, column) in self.columns.channels.iter_mut().enumerate() {
            match more.channels.get(position) {
                Some(values) => column.extend(values),
                None => column.resize(rows, f64::NAN),
            }
        }
    }

    /// Packs and summarises the block, moving `carry` (by [`slot`]) on. `None` if it is empty.
    pub(super) fn close(&self, layout: &Layout, carry: &mut [Carry]) -> Option<Closed> {
        let (&first_ms, &last_ms) = (self.columns.time_ms.first()?, self.columns.time_ms.last()?);
        let mut closed = Closed {
            first_ms,
            last_ms,
            count: self.len(),
            taken: self.len(),
            times_thinned: 0,
            in_tail: self.written,
            secured: self.secured,
            not_in_tail: self.rest(),
            chunk: self.packed_from(0),
            minutes: None,
            hours: Vec::new(),
            days: Vec::new(),
        };
        let power =
            layout.power_from.map(|(voltage, current)| power_of(&self.columns, voltage, current)).unwrap_or_default();
        let stored = (0_i64..).zip(&self.columns.channels).zip(&layout.units);
        let mut minutes = Vec::new();
        for (channel, values, unit) in
            std::iter::once((POWER, &power, Unit::Watt)).chain(stored.map(|((c, v), u)| (c, v, *u)))
        {
            let times = &self.columns.time_ms;
            let fine = by_span(times, values, &mut carry[slot(channel)], layout.gap_ms, MINUTE_MS);
            let row = |(start_ms, summary): (i64, Summary)| ChannelSummary {
                channel,
                start_ms,
                summary,
                integrated: matches!(unit, Unit::Ampere | Unit::Watt),
            };
            let hours = coarser(&fine, HOUR_MS);
            closed.days.extend(coarser(&hours, DAY_MS).into_iter().map(row));
            closed.hours.extend(hours.into_iter().map(row));
            minutes.push(MinuteColumns::of(values, fine, channel == POWER));
        }
        closed.minutes = pack_minutes(&self.columns.time_ms, &minutes);
        Some(closed)
    }
}

/// Minutes of one channel, and how finely their means are kept.
struct MinuteColumns {
    summaries: Vec<(i64, Summary)>,
    /// 10 to the number of decimals of minimum and maximum; `None` keeps them as they are.
    round_to: Option<f64>,
    /// The same for the mean.
    round_mean_to: Option<f64>,
}

impl MinuteColumns {
    fn of(values: &[f64], summaries: Vec<(i64, Summary)>, derived: bool) -> MinuteColumns {
        let (round_to, decimals) = if derived {
            (Some(10_f64.powi(POWER_STEP_DECIMALS)), Some(POWER_STEP_DECIMALS))
        } else {
            (None, codec::decimals(values).map(i32::from))
        };
        MinuteColumns {
            summaries,
            round_to,
            round_mean_to: decimals.map(|decimals| 10_f64.powi((decimals + 1).min(6))),
        }
    }

    /// Count, minimum, maximum and mean at each of `starts`.
    fn columns(&self, starts: &[i64]) -> [Vec<f64>; MINUTE_COLUMNS] {
        let mut columns = [(); MINUTE_COLUMNS].map(|()| Vec::with_capacity(starts.len()));
        let mut rest = self.summaries.iter().peekable();
        for &start in starts {
            let row = match rest.next_if(|(at, _)| *at == start) {
                Some((_, s)) => [
                    s.count as f64,
                    rounded(s.min, self.round_to),
                    rounded(s.max, self.round_to),
                    rounded(s.mean(), self.round_mean_to),
                ],
                None => [f64::NAN; MINUTE_COLUMNS],
            };
            for (column, value) in columns.iter_mut().zip(row) {
                column.push(value);
            }
        }
        columns
    }
}

fn rounded(value: f64, tens: Option<f64>) -> f64 {
    // The product may overflow for values that no bank has; they are kept as they are.
    match tens.map(|tens| (value * tens).round() / tens + 0.0) {
        Some(rounded) if rounded.is_finite() => rounded,
        _ => value,
    }
}

/// [`MINUTE_COLUMNS`] a channel. `None` where minutes would be more than half as many as the samples.
fn pack_minutes(time_ms: &[i64], channels: &[MinuteColumns]) -> Option<Vec<u8>> {
    let mut starts: Vec<i64> = time_ms.iter().map(|&t| start_of(t, MINUTE_MS)).collect();
    starts.dedup();
    if starts.len() * 2 > time_ms.len() {
        return None;
    }
    let columns: Vec<Vec<f64>> = channels.iter().flat_map(|c| c.columns(&starts)).collect();
    let slices: Vec<&[f64]> = columns.iter().map(Vec::as_slice).collect();
    Some(codec::encode(&starts, &slices))
}
