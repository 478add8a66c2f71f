//! The one writer: takes samples and records into memory, and commits all of them at once.

mod anew;
pub(super) mod blocks;
mod commit;
mod events;
mod found;
mod kept;
mod known;
mod notes;
mod passages;
mod pending;
mod replace;
mod report;
mod resume;
mod secure;
mod series;
mod set_aside;
mod take_in;
mod thin;
pub(super) mod written;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};

use super::block::{POWER, slot};
use super::error::{Error, Result};
use super::record::{Anchor, BootKind, Checkpoint, EventRecord, FixRecord, SeriesId, SeriesSpec, StoredAnchor};
use super::slate::Slate;
use super::{common, schema};
use crate::clock::WallReading;
use crate::quantity::{BootNo, Moment, Sample, Timeline, UtcMs};
use found::Damage;
pub use found::{Anew, Found, Outcome, Piece};
use known::Known;
use pending::{MAX_RECORDS, Pending, push_bounded};
pub(in crate::store) use replace::nobody_reads;
pub use replace::{draft_of, replaced_of};
pub use report::{Appended, CommitReport, Options};
pub(in crate::store) use series::layout_of;
use series::{SeriesState, refuse_doubles, refused};

/// The one that writes. Synchronous; the daemon runs it on a thread of its own ([`super::spawn`]).
#[derive(Debug)]
pub struct Writer {
    path: PathBuf,
    connection: Connection,
    options: Options,
    boots: u32,
    /// The boot of the computer that was begun last.
    live: Option<BootNo>,
    series: BTreeMap<SeriesId, SeriesState>,
    pending: Pending,
    /// What notes on the slate have to carry to follow the last commit.
    mark: i64,
    slate: Option<Slate>,
    refused: u64,
    thinned: u64,
    lost: u64,
    known: Known,
    damage: Damage,
}

impl Writer {
    /// Opens the file, creates it if it is not there, brings it to the present layout, takes up the open tail, and takes
    /// in what the slate beside it holds.
    ///
    /// # Errors
    /// [`Error::Damaged`], [`Error::TooNew`], [`Error::NotOurs`], or what SQLite reports.
    pub fn open(path: &Path, options: Options) -> Result<Writer> {
        let connection = schema::open_writer(path)?;
        connection.set_prepared_statement_cache_capacity(64);
        let boots = connection
            .query_row("SELECT coalesce(max(no), 0) FROM boot", [], |row| row.get(0))
            .map_err(|e| Error::sqlite(path, "read its boots", e))?;
        let mark = common::mark(&connection).map_err(|e| Error::sqlite(path, "read the mark of its last commit", e))?;
        let mut writer = Writer {
            path: path.to_owned(),
            connection,
            options,
            boots,
            live: None,
            series: BTreeMap::new(),
            pending: Pending::default(),
            mark,
            slate: None,
            refused: 0,
            thinned: 0,
            lost: 0,
            known: Known::default(),
            damage: Damage::default(),
        };
        writer.take_up_tails()?;
        writer.take_up_slate()?;
        Ok(writer)
    }

    /// The number of a boot, given when it was first seen. A live boot that is new closes the open stretches of those
    /// before it. Written at once.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn begin_boot(&mut self, boot_id: &str, kind: BootKind) -> Result<BootNo> {
        let err = |e| Error::sqlite(&self.path, "note the boot", e);
        let known: Option<u32> = self
            .connection
            .query_row("SELECT no FROM boot WHERE boot_id = ?1", [boot_id], |row| row.get(0))
            .optional()
            .map_err(err)?;
        let boot = match known {
            Some(no) => BootNo(no),
            None => {
                let no = self.boots + 1;
                self.connection
                    .execute(
                        "INSERT INTO boot (no, boot_id, kind) VALUES (?1, ?2, ?3)",
                        params![no, boot_id, kind.as_str()],
                    )
                    .map_err(err)?;
                self.boots = no;
                BootNo(no)
            }
        };
        let fixes = common::latest_clock_fixes(&self.connection, boot, anew::MOST_FIXES).map_err(err)?;
        self.known.boot(boot, boot_id, kind, fixes);
        if kind == BootKind::Live {
            self.live = Some(boot);
            for (id, series) in &mut self.series {
                if series.boot != Some(boot) {
                    series.close_into(*id, &mut self.pending);
                }
            }
        }
        Ok(boot)
    }

    /// The number of a series, created if its bank has none of that name. Channels that it did not have are added,
    /// those that it has keep their places. Written at once.
    ///
    /// # Errors
    /// [`Error::SeriesRefused`] for doubled or too many channels or another kind, or what SQLite reports.
    pub fn series(&mut self, spec: &SeriesSpec) -> Result<SeriesId> {
        let path = self.path.clone();
        let err = |e| Error::sqlite(&path, "note the series", e);
        refuse_doubles(spec)?;
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        let (id, kind): (i64, String) = tx
            .query_row(
                "INSERT INTO series (bank, name, kind, gap_ms) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT DO UPDATE SET gap_ms = excluded.gap_ms RETURNING id, kind",
                params![spec.bank, spec.name, spec.kind.as_str(), spec.gap_ms],
                |row| Ok((row.get(0)?, row.get(1)?)),
            )
            .map_err(err)?;
        if kind != spec.kind.as_str() {
            return Err(refused(spec, &format!("its bank has a {kind} series of that name")));
        }
        let id = SeriesId(id);
        let mut channels = common::stored_channels(&tx, id).map_err(err)?;
        let mut order = Vec::with_capacity(spec.channels.len());
        for channel in &spec.channels {
            let position = channels.iter().position(|name| name == channel.name());
            order.push(position.unwrap_or(channels.len()));
            if position.is_none() {
                common::add_channel(&tx, id, channels.len() as i64, channel.name()).map_err(err)?;
                channels.push(channel.name().to_owned());
            }
        }
        if channels.len() >= slot(POWER - 1) {
            return Err(refused(spec, &format!("it has had more than {POWER} channels")));
        }
        let layout = layout_of(&channels, spec.gap_ms);
        if layout.power_from.is_some() {
            common::add_channel(&tx, id, POWER, common::POWER_NAME).map_err(err)?;
        }
        tx.commit().map_err(err)?;
        self.known.series(
            id,
            known::Series { bank: spec.bank.clone(), name: spec.name.clone(), kind, gap_ms: spec.gap_ms, channels },
        );
        self.series.entry(id).or_default().adopt(&spec.name, layout, order);
        Ok(id)
    }

    /// Takes a sample; values in the order of the spec's channels. Negative zero becomes zero; values that are not
    /// finite, or beyond 1e30, become missing.
    ///
    /// # Errors
    /// If the series, the boot or the number of values does not fit the store; what SQLite reports where a series
    /// goes on in an earlier boot, whose last moment must be looked up.
    pub fn append(&mut self, series: SeriesId, sample: &Sample) -> Result<Appended> {
        self.append_values(series, sample.at, &sample.values)
    }

    /// [`Writer::append`] without a [`Sample`], for millions of rows.
    ///
    /// # Errors
    /// As [`Writer::append`].
    pub fn append_values(&mut self, id: SeriesId, at: Moment, values: &[Option<f64>]) -> Result<Appended> {
        self.check_boot(at.boot)?;
        let series =
            self.series.get_mut(&id).filter(|series| !series.order.is_empty()).ok_or(Error::UnknownSeries(id.0))?;
        if values.len() != series.order.len() {
            return Err(Error::ChannelCount {
                series: series.name.clone(),
                given: values.len(),
                channels: series.order.len(),
            });
        }
        if series.boot != Some(at.boot) {
            series.close_into(id, &mut self.pending);
            series.begin(&self.connection, &self.path, id, at.boot, &self.pending)?;
        }
        if series.last_ms.is_some_and(|last| at.mono.0 <= last) {
            self.refused += 1;
            return Ok(Appended::Refused);
        }
        if series.block.closes_before(at.mono.0) {
            series.close_into(id, &mut self.pending);
            let shed = self.pending.shed(self.options.pending_bytes);
            self.thinned += shed.thinned;
            self.lost += shed.lost;
        }
        series.push(at.mono.0, values);
        Ok(Appended::Taken)
    }

    /// Takes a correction of the reckoning.
    ///
    /// # Errors
    /// [`Error::UnknownBoot`].
    pub fn fix(&mut self, fix: FixRecord) -> Result<()> {
        self.check_boot(fix.at.boot)?;
        self.lost += push_bounded(&mut self.pending.fixes, fix);
        Ok(())
    }

    /// Takes an anchor, in the same commit as the fix that was given just before it.
    ///
    /// # Errors
    /// [`Error::UnknownBoot`].
    pub fn anchor(&mut self, anchor: Anchor) -> Result<()> {
        self.check_boot(anchor.at.boot)?;
        self.lost += push_bounded(&mut self.pending.anchors, anchor);
        Ok(())
    }

    /// Takes reconciled points; with the last ones of a run, the anchor `done` that it began at goes in the same commit.
    /// Points that are there already stay as they are.
    ///
    /// # Errors
    /// As [`Writer::append`]; the anchor stays then.
    pub fn reconciled(&mut self, series: SeriesId, points: &[Sample], done: Option<i64>) -> Result<()> {
        points.iter().try_for_each(|point| self.append(series, point).map(drop))?;
        self.pending.done_anchors.extend(done);
        Ok(())
    }

    /// The committed anchors of a bank, line by line, each in the order of its runs.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn anchors(&self, bank: &str) -> Result<Vec<StoredAnchor>> {
        common::load_anchors(&self.connection, bank).map_err(|e| Error::sqlite(&self.path, "read its anchors", e))
    }

    /// Takes an event. The same (bank, device and kind) within an hour of the last is counted there.
    ///
    /// # Errors
    /// [`Error::UnknownBoot`].
    pub fn event(&mut self, event: EventRecord) -> Result<()> {
        self.check_boot(event.at.boot)?;
        self.lost += self.pending.events.take(event, MAX_RECORDS);
        Ok(())
    }

    /// Takes a reading of the wall clock as a clock fix; `kind` says why it was noted.
    ///
    /// # Errors
    /// [`Error::UnknownBoot`].
    pub fn clock_fix(&mut self, boot: BootNo, reading: WallReading, kind: &str) -> Result<()> {
        self.check_boot(boot)?;
        self.known.clock_fix(boot, reading, kind);
        self.lost += push_bounded(&mut self.pending.clock_fixes, (boot, reading, kind.to_owned()));
        Ok(())
    }

    /// Takes the state of a bank's reckoning, to be written with the samples taken so far.
    ///
    /// # Errors
    /// [`Error::UnknownBoot`].
    pub fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        self.check_boot(checkpoint.at.boot)?;
        self.pending.checkpoints.insert(checkpoint.bank.clone(), checkpoint);
        Ok(())
    }

    /// The last committed state of a bank's reckoning.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn load_checkpoint(&self, bank: &str) -> Result<Option<Checkpoint>> {
        common::load_checkpoint(&self.connection, bank).map_err(|e| Error::sqlite(&self.path, "read the checkpoint", e))
    }

    /// All committed clock fixes.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn timeline(&self) -> Result<Timeline> {
        common::load_timeline(&self.connection).map_err(|e| Error::sqlite(&self.path, "read its clock fixes", e))
    }

    /// The last committed moment of a series, in the latest boot that has any.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn last_moment(&self, series: SeriesId) -> Result<Option<Moment>> {
        common::last_moments(&self.connection, Some(series))
            .map(|all| all.into_iter().max_by_key(|at| at.boot))
            .map_err(|e| Error::sqlite(&self.path, "read its last moments", e))
    }

    /// The latest UTC that a committed live sample has, as far as it is believed: a clock that shows less is wrong.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn last_utc(&self) -> Result<Option<UtcMs>> {
        let timeline = self.timeline()?;
        let live = common::last_moments(&self.connection, None)
            .map_err(|e| Error::sqlite(&self.path, "read its last moments", e))?;
        Ok(live
            .into_iter()
            .filter_map(|at| timeline.utc(at))
            .filter(|placed| placed.trusted())
            .map(|placed| placed.utc)
            .max())
    }

    /// Commits, folds what is worth folding, brings everything into the one file, and closes it. The slate stays where it
    /// is: on a card that is full by the next start there would be no room for one.
    ///
    /// # Errors
    /// What SQLite reports; what was committed before is safe.
    pub fn close(mut self) -> Result<CommitReport> {
        for (id, series) in &mut self.series {
            if series.block.len() >= super::block::FOLD_FROM {
                series.close_into(*id, &mut self.pending);
            }
        }
        // Where no commit is to be had, the slate may still take it.
        let report = self.commit().or_else(|_| self.secure())?;
        self.connection
            .execute_batch("PRAGMA wal_checkpoint(TRUNCATE)")
            .map_err(|e| Error::sqlite(&self.path, "bring the log into the file", e))?;
        Ok(report)
    }

    /// What was counted since opening.
    const fn tallies(&self) -> CommitReport {
        CommitReport { samples: 0, chunks: 0, refused: self.refused, thinned: self.thinned, lost: self.lost }
    }

    fn check_boot(&self, boot: BootNo) -> Result<()> {
        if (1..=self.boots).contains(&boot.0) { Ok(()) } else { Err(Error::UnknownBoot(boot.0)) }
    }
}

#[cfg(test)]
mod tests;
