//! One transaction with everything that waits.

use rusqlite::{Connection, TransactionBehavior, params};

use super::blocks;
use super::events::EventRow;
use super::pending::Pending;
use super::series::SeriesState;
use super::set_aside::move_row;
use super::{CommitReport, Writer, written};
use crate::quantity::{BandedSoc, BootNo};
use crate::store::block::{ChannelSummary, Closed};
use crate::store::error::{Error, Result};
use crate::store::record::{Anchor, FixRecord, SeriesId};

impl Writer {
    /// Writes everything that waits, in one transaction that is on the card when this returns. On an error nothing
    /// of it is written, everything is kept, and the next commit tries again.
    ///
    /// # Errors
    /// [`Error::Full`] if the card is full, or what SQLite reports.
    pub fn commit(&mut self) -> Result<CommitReport> {
        let report =
            CommitReport { samples: self.waiting_samples(), chunks: self.pending.closed.len(), ..self.tallies() };
        if self.is_clean() {
            return Ok(report);
        }
        if let Some((_, cause)) = self.damage.renamed.clone() {
            self.begin_anew(&cause)?;
        }
        let path = &self.path;
        let err = |e| Error::sqlite(path, "commit", e);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        for row in &self.pending.set_aside {
            move_row(&tx, row, None).map_err(err)?;
        }
        write_samples(&tx, &self.series, &self.pending).map_err(err)?;
        write_records(&tx, &self.pending).map_err(err)?;
        let event_rows = self.pending.events.write(&tx).map_err(err)?;
        written::write(&tx, &self.pending.written).map_err(err)?;
        let mark = draw_mark(&tx).map_err(err)?;
        tx.commit().map_err(err)?;
        self.mark = mark;
        self.settle(event_rows);
        Ok(report)
    }

    /// Samples that a power cut would cost: those that neither a commit nor the slate holds.
    #[must_use]
    pub fn waiting_samples(&self) -> usize {
        let closed = self.pending.closed.iter().map(|(_, _, c)| c.count - c.secured);
        let open = self.series.values().map(|s| s.block.len() - s.block.secured);
        closed.chain(open).sum()
    }

    /// True if nothing would be in a commit.
    fn is_clean(&self) -> bool {
        self.pending.is_clean() && self.series.values().all(|s| s.block.len() == s.block.written)
    }

    fn settle(&mut self, event_rows: Vec<EventRow>) {
        for series in self.series.values_mut() {
            series.block.written = series.block.len();
            series.block.secured = series.block.len();
        }
        self.pending.closed.clear();
        self.pending.fixes.clear();
        self.pending.anchors.clear();
        self.pending.done_anchors.clear();
        self.pending.clock_fixes.clear();
        self.pending.checkpoints.clear();
        self.pending.written.clear();
        self.pending.set_aside.clear();
        self.pending.events.settle(event_rows);
    }
}

/// What notes on the slate have to carry to follow this commit.
fn draw_mark(tx: &Connection) -> rusqlite::Result<i64> {
    tx.prepare_cached("UPDATE slate_mark SET before = mark, mark = random() WHERE one = 1 RETURNING mark")?
        .query_row([], |row| row.get(0))
}

impl Pending {
    /// True if something waits that belongs into a commit within seconds: all but saved states and
    /// repeats of an event.
    pub(super) fn is_urgent(&self) -> bool {
        !(self.closed.is_empty()
            && self.fixes.is_empty()
            && self.anchors.is_empty()
            && self.done_anchors.is_empty()
            && self.clock_fixes.is_empty()
            && self.events.all_known())
    }

    fn is_clean(&self) -> bool {
        self.closed.is_empty()
            && self.fixes.is_empty()
            && self.anchors.is_empty()
            && self.done_anchors.is_empty()
            && self.clock_fixes.is_empty()
            && self.checkpoints.is_empty()
            && self.set_aside.is_empty()
            && self.events.is_clean()
    }
}

fn write_samples(
    tx: &Connection,
    series: &std::collections::BTreeMap<SeriesId, SeriesState>,
    pending: &Pending,
) -> rusqlite::Result<()> {
    for (id, boot, closed) in &pending.closed {
        fold(tx, *id, *boot, closed)?;
    }
    let mut insert =
        tx.prepare_cached("INSERT INTO tail (series, boot, first_mono_ms, count, data) VALUES (?1, ?2, ?3, ?4, ?5)")?;
    for (id, state) in series {
        let block = &state.block;
        if let (Some(boot), Some(first_ms)) = (state.boot, block.columns.time_ms.get(block.written)) {
            insert.execute(params![
                id.0,
                boot.0,
                first_ms,
                (block.len() - block.written) as i64,
                block.packed_from(block.written),
            ])?;
        }
    }
    Ok(())
}

/// Turns the rows of the tail into a chunk with its summaries.
fn fold(tx: &Connection, id: SeriesId, boot: BootNo, closed: &Closed) -> rusqlite::Result<()> {
    if closed.in_tail > 0 {
        tx.prepare_cached("DELETE FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms BETWEEN ?3 AND ?4")?
            .execute(params![id.0, boot.0, closed.first_ms, closed.last_ms])?;
    }
    blocks::finish_boot_before(tx, id, boot)?;
    let count = closed.count as i64;
    let chunk = tx
        .prepare_cached(
            "INSERT INTO chunk (series, boot, first_mono_ms, last_mono_ms, count, data)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
        )?
        .insert(params![id.0, boot.0, closed.first_ms, closed.last_ms, count, closed.chunk])?;
    if closed.taken > closed.count {
        tx.prepare_cached("INSERT INTO thinned (chunk, taken) VALUES (?1, ?2)")?
            .execute(params![chunk, closed.taken as i64])?;
    }
    if let Some(minutes) = &closed.minutes {
        tx.prepare_cached("INSERT INTO minute_chunk (id, data) VALUES (?1, ?2)")?.execute(params![chunk, minutes])?;
    }
    tx.prepare_cached(
        "INSERT INTO span (series, boot, first_mono_ms, last_mono_ms, count) VALUES (?1, ?2, ?3, ?4, ?5)
         ON CONFLICT DO UPDATE SET last_mono_ms = excluded.last_mono_ms, count = count + excluded.count",
    )?
    .execute(params![id.0, boot.0, closed.first_ms, closed.last_ms, count])?;
    merge_summaries(tx, HOUR_MERGE, id, boot, &closed.hours)?;
    merge_summaries(tx, DAY_MERGE, id, boot, &closed.days)?;
    blocks::follow(tx, id, boot, closed)
}

macro_rules! merge {
    ($table:literal) => {
        concat!(
            "INSERT INTO ",
            $table,
            " (series, channel, boot, start_mono_ms, count, covered_s, min, max, mean, positive, negative)
             VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)
             ON CONFLICT DO UPDATE SET
                mean = (mean * count + excluded.mean * excluded.count) / (count + excluded.count),
                count = count + excluded.count,
                covered_s = covered_s + excluded.covered_s,
                min = min(min, excluded.min),
                max = max(max, excluded.max),
                positive = positive + excluded.positive,
                negative = negative + excluded.negative"
        )
    };
}

/// An hour may be folded in parts (a restart, a very fast device); its parts add up.
const HOUR_MERGE: &str = merge!("hour_summary");
const DAY_MERGE: &str = merge!("day_summary");

fn merge_summaries(
    tx: &Connection,
    sql: &'static str,
    id: SeriesId,
    boot: BootNo,
    rows: &[ChannelSummary],
) -> rusqlite::Result<()> {
    let mut merge = tx.prepare_cached(sql)?;
    for row in rows {
        let summary = &row.summary;
        merge.execute(params![
            id.0,
            row.channel,
            boot.0,
            row.start_ms,
            summary.count,
            summary.covered_s,
            summary.min,
            summary.max,
            summary.mean(),
            row.integrated.then_some(summary.positive),
            row.integrated.then_some(summary.negative),
        ])?;
    }
    Ok(())
}

fn write_records(tx: &Connection, pending: &Pending) -> rusqlite::Result<()> {
    for (boot, reading, kind) in &pending.clock_fixes {
        tx.prepare_cached("INSERT INTO clock_fix (boot, mono_ms, utc_ms, trust, kind) VALUES (?1, ?2, ?3, ?4, ?5)")?
            .execute(params![boot.0, reading.mono.0, reading.utc.0, reading.trust.rank(), kind])?;
    }
    for fix in &pending.fixes {
        write_fix(tx, fix)?;
    }
    for anchor in &pending.anchors {
        write_anchor(tx, anchor)?;
    }
    for id in &pending.done_anchors {
        tx.prepare_cached("DELETE FROM anchor WHERE id = ?1")?.execute([id])?;
    }
    for checkpoint in pending.checkpoints.values() {
        tx.prepare_cached(
            "INSERT INTO checkpoint (bank, boot, mono_ms, version, state) VALUES (?1, ?2, ?3, ?4, ?5)
             ON CONFLICT DO UPDATE SET boot = excluded.boot, mono_ms = excluded.mono_ms,
                version = excluded.version, state = excluded.state",
        )?
        .execute(params![
            checkpoint.bank,
            checkpoint.at.boot.0,
            checkpoint.at.mono.0,
            checkpoint.version,
            checkpoint.state,
        ])?;
    }
    Ok(())
}

fn write_anchor(tx: &Connection, anchor: &Anchor) -> rusqlite::Result<()> {
    tx.prepare_cached(
        "INSERT INTO anchor (bank, side, boot, mono_ms, fix, version, state) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        anchor.bank,
        anchor.side.map(|boot| boot.0),
        anchor.at.boot.0,
        anchor.at.mono.0,
        anchor.fix,
        anchor.version,
        anchor.state,
    ])?;
    Ok(())
}

fn write_fix(tx: &Connection, fix: &FixRecord) -> rusqlite::Result<()> {
    let before = |part: fn(&BandedSoc) -> f64| fix.before.as_ref().map(part);
    tx.prepare_cached(
        "INSERT INTO fix (bank, boot, mono_ms, kind, soc_before, soc_before_low, soc_before_high,
            soc_after, soc_after_low, soc_after_high, text)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )?
    .execute(params![
        fix.bank,
        fix.at.boot.0,
        fix.at.mono.0,
        fix.kind,
        before(|b| b.soc),
        before(|b| b.band.low),
        before(|b| b.band.high),
        fix.after.soc,
        fix.after.band.low,
        fix.after.band.high,
        fix.text,
    ])?;
    Ok(())
}
