//! Charge and energy between two times.
//!
//! Exact to the sample at both ends: whole days and hours come from their summaries, the rest from the samples. As
//! everywhere the interval between two samples belongs to the later one, so neighbouring sums add up to their whole.

use rusqlite::params;

use super::Reader;
use super::scan::{Piece, Selection};
use super::unpacked::Unpacked;
use crate::quantity::{BootNo, Channel, UtcMs};
use crate::store::common::POWER_NAME;
use crate::store::error::Result;
use crate::store::record::{SeriesId, SeriesInfo};
use crate::store::summary::{Carry, DAY_MS, HOUR_MS, Summary};

/// Integral of a current or a power.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Integral {
    /// Seconds covered by samples, gaps left out.
    pub covered_s: f64,
    /// Integral of the part above zero, unit seconds.
    pub positive: f64,
    /// Integral of the part below zero, unit seconds, not positive.
    pub negative: f64,
}

/// What went in and out of a bank.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Sums {
    /// Seconds covered by samples of the current.
    pub covered_s: f64,
    /// Charge put in.
    pub charge_in_ah: f64,
    /// Charge taken out, not negative.
    pub charge_out_ah: f64,
    /// Energy put in.
    pub energy_in_wh: f64,
    /// Energy taken out, not negative.
    pub energy_out_wh: f64,
}

/// The channel that is summed, and how long its intervals may be.
struct Summed<'a> {
    id: SeriesId,
    selection: &'a Selection,
    gap_ms: i64,
}

impl Reader {
    /// Charge and energy through `current_a` and `power_w` of a series between two times; zero for a channel that it
    /// does not have.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], or what SQLite reports.
    pub fn sums(&self, series: SeriesId, from: UtcMs, to: UtcMs) -> Result<Sums> {
        let _snapshot = self.snapshot()?;
        let info = self.series(series)?;
        let has = |name: &str| info.channels.iter().any(|channel| channel == name);
        let mut sums = Sums::default();
        if has(Channel::CURRENT) {
            let charge = self.integral_of(&info, Channel::CURRENT, from, to)?;
            sums.covered_s = charge.covered_s;
            sums.charge_in_ah = charge.positive / 3600.0;
            sums.charge_out_ah = 0.0 - charge.negative / 3600.0;
        }
        if info.has_power || has(POWER_NAME) {
            let energy = self.integral_of(&info, POWER_NAME, from, to)?;
            sums.energy_in_wh = energy.positive / 3600.0;
            sums.energy_out_wh = 0.0 - energy.negative / 3600.0;
        }
        Ok(sums)
    }

    /// The integral of one current or power between two times.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownSeries`], [`crate::store::Error::UnknownChannel`], or what
    /// SQLite reports.
    pub fn integral(&self, series: SeriesId, channel: &str, from: UtcMs, to: UtcMs) -> Result<Integral> {
        let _snapshot = self.snapshot()?;
        self.integral_of(&self.series(series)?, channel, from, to)
    }

    fn integral_of(&self, info: &SeriesInfo, channel: &str, from: UtcMs, to: UtcMs) -> Result<Integral> {
        let selection = Selection::of(info, &[channel.to_owned()])?;
        let summed = Summed { id: info.id, selection: &selection, gap_ms: info.gap_ms };
        let mut total = Integral::default();
        for piece in self.pieces(info.id, from, to)? {
            self.add_piece(&mut total, &summed, &piece)?;
        }
        Ok(total)
    }

    fn add_piece(&self, total: &mut Integral, summed: &Summed<'_>, piece: &Piece) -> Result<()> {
        let boot = piece.range.boot;
        let (from, to) = (piece.range.from.0, piece.range.to.0);
        // Where the piece begins or ends with the boot's own samples, its first and last hour are whole.
        let folded = piece.extent.folded;
        let begins = folded.is_some_and(|(first, _)| from <= first);
        let ends = piece.extent.tail_from.is_none() && folded.is_some_and(|(_, last)| to > last);
        let whole_from = if begins { floor(from, HOUR_MS) } else { ceil(from, HOUR_MS) };
        let whole_to = if ends { ceil(to, HOUR_MS) } else { floor(to, HOUR_MS) };
        if whole_from >= whole_to {
            return self.add_samples(total, summed, boot, (from, to));
        }
        self.add_samples(total, summed, boot, (from, whole_from))?;
        self.add_rows(total, summed, boot, (whole_from, whole_to))?;
        if let Some(tail_from) = piece.extent.tail_from.filter(|tail| *tail < whole_to) {
            // The tail is in no summary yet.
            self.add_samples(total, summed, boot, (whole_from.max(tail_from), whole_to))?;
        }
        self.add_samples(total, summed, boot, (whole_to, to))
    }

    /// Whole hours, of which whole days are taken together.
    fn add_rows(&self, total: &mut Integral, summed: &Summed<'_>, boot: BootNo, (from, to): (i64, i64)) -> Result<()> {
        let (day_from, day_to) = (ceil(from, DAY_MS), floor(to, DAY_MS));
        if day_from >= day_to {
            return self.add_table(total, summed, boot, HOURS, (from, to));
        }
        self.add_table(total, summed, boot, HOURS, (from, day_from))?;
        self.add_table(total, summed, boot, DAYS, (day_from, day_to))?;
        self.add_table(total, summed, boot, HOURS, (day_to, to))
    }

    fn add_table(
        &self,
        total: &mut Integral,
        summed: &Summed<'_>,
        boot: BootNo,
        sql: &'static str,
        (from, to): (i64, i64),
    ) -> Result<()> {
        let channel = summed.selection.wanted[0].channel;
        let read = || -> rusqlite::Result<Integral> {
            self.connection.prepare_cached(sql)?.query_row(params![summed.id.0, channel, boot.0, from, to], |row| {
                Ok(Integral { covered_s: row.get(0)?, positive: row.get(1)?, negative: row.get(2)? })
            })
        };
        let rows = read().map_err(self.err("add up its summaries"))?;
        total.covered_s += rows.covered_s;
        total.positive += rows.positive;
        total.negative += rows.negative;
        Ok(())
    }

    fn add_samples(
        &self,
        total: &mut Integral,
        summed: &Summed<'_>,
        boot: BootNo,
        (from, to): (i64, i64),
    ) -> Result<()> {
        if from >= to {
            return Ok(());
        }
        let mut carry: Carry = None;
        let mut before = Summary::EMPTY;
        let mut inside = Summary::EMPTY;
        let mut unpacked = Unpacked::default();
        let mut add = |data: &[u8]| {
            unpacked.samples(data, summed.selection)?;
            let values = unpacked.channel(&summed.selection.wanted[0], summed.selection);
            for (&time, &value) in unpacked.time_ms().iter().zip(values) {
                if time < to {
                    let summary = if time < from { &mut before } else { &mut inside };
                    summary.follow(&mut carry, time, value, summed.gap_ms);
                }
            }
            Ok(())
        };
        // The interval before the first sample begins up to a gap earlier.
        let reach = (from.saturating_sub(summed.gap_ms), to);
        self.each_chunk(summed.id, boot, reach, false, |data, _| add(data))?;
        self.each_tail(summed.id, boot, add)?;
        total.covered_s += inside.covered_s;
        total.positive += inside.positive;
        total.negative += inside.negative;
        Ok(())
    }
}

const HOURS: &str = "SELECT total(covered_s), total(positive), total(negative) FROM hour_summary
    WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms >= ?4 AND start_mono_ms < ?5";
const DAYS: &str = "SELECT total(covered_s), total(positive), total(negative) FROM day_summary
    WHERE series = ?1 AND channel = ?2 AND boot = ?3 AND start_mono_ms >= ?4 AND start_mono_ms < ?5";

fn floor(ms: i64, span_ms: i64) -> i64 {
    ms - ms.rem_euclid(span_ms)
}

fn ceil(ms: i64, span_ms: i64) -> i64 {
    let over = ms.rem_euclid(span_ms);
    if over == 0 { ms } else { ms + (span_ms - over) }
}
