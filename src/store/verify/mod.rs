//! Proof that a store is sound: every page, every sample, every summary of them, and every record that leans on them.
//!
//! Everything is read once, in one snapshot, beside a daemon that may be writing. Samples are decoded and summarised again
//! by the same rules as when they were folded; what is stored must be what comes out. Where a piece cannot be read, the
//! hours and days that it reaches into cannot be proved, and are counted as such; so are those of chunks that were thinned.

mod blocks;
mod chunks;
mod file;
mod kept;
mod minutes;
mod records;
mod summaries;

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use rusqlite::Connection;

use super::block::POWER;
use super::error::{Error, Result};
use super::record::SeriesId;
use super::unreadable::span_words;
use super::writer::nobody_reads;
use super::{common, schema};
use crate::quantity::{BootNo, Timeline, UtcMs};

/// Most findings that are told one by one.
const MOST_FINDINGS: usize = 1000;

/// What to do about a piece that the daemon can set aside.
const SET_ASIDE: &str = "the daemon sets it aside when it next meets it; what is in no copy is lost";
/// What to do about anything else.
const RESTORE: &str = "restore a copy, or keep the file and let the daemon go on with it";

/// Something in a store that is not as it must be.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The table, or `file` for the file as a whole.
    pub table: &'static str,
    /// The bank that it concerns, if one.
    pub bank: Option<String>,
    /// The series that it concerns, if one.
    pub series: Option<String>,
    /// From when to when, in words, if it has a time.
    pub span: Option<String>,
    /// What is wrong.
    pub cause: String,
    /// What to do.
    pub advice: &'static str,
}

impl std::fmt::Display for Finding {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(out, "{}", self.table)?;
        if let Some(series) = &self.series {
            write!(out, " of series \"{series}\"")?;
        }
        if let Some(bank) = &self.bank {
            write!(out, ", bank \"{bank}\"")?;
        }
        if let Some(span) = &self.span {
            write!(out, ", {span}")?;
        }
        write!(out, ": {}; {}", self.cause, self.advice)
    }
}

/// How far a proof has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Progress {
    /// The pages of the file are looked at; how long that takes is not known.
    Pages,
    /// So many samples of so many are proved.
    Samples {
        /// Those that are done.
        done: u64,
        /// All of them.
        of: u64,
    },
}

/// What a proof found.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Verified {
    /// What is not as it must be, up to a thousand of it.
    pub findings: Vec<Finding>,
    /// How much more of it there is.
    pub further: u64,
    /// Samples that were decoded.
    pub samples: u64,
    /// UTC of the first and the last of them that can be placed.
    pub span: Option<(UtcMs, UtcMs)>,
    /// What was set aside earlier, one line each.
    pub set_aside: Vec<String>,
    /// Rows of hours and days that reach into pieces which cannot be read, or were thinned while the card was full, and so
    /// cannot be proved.
    pub not_provable: u64,
}

impl Verified {
    /// True if nothing was found.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.findings.is_empty()
    }
}

/// Proves the store at `path`; `progress` is told how far that has come. Read-only.
///
/// # Errors
/// [`Error::NotOurs`], [`Error::TooNew`], or what SQLite reports where it is not damage: damage is a finding.
pub fn verify(path: &Path, progress: &mut dyn FnMut(Progress)) -> Result<Verified> {
    let connection = match schema::open_reader(path) {
        Ok(connection) => connection,
        Err(Error::Damaged { cause, .. }) => {
            let mut verified = Verified::default();
            verified.findings.push(whole_file(cause));
            return Ok(verified);
        }
        Err(error) => return Err(error),
    };
    let snapshot = connection.unchecked_transaction().map_err(|e| Error::sqlite(path, "begin to read", e))?;
    let mut proof = Proof {
        connection: &snapshot,
        path,
        progress,
        timeline: Timeline::default(),
        series: BTreeMap::new(),
        thinned: BTreeSet::new(),
        last: BTreeMap::new(),
        total: 0,
        verified: Verified::default(),
    };
    proof.all()?;
    Ok(proof.verified)
}

fn whole_file(cause: String) -> Finding {
    Finding { table: "file", bank: None, series: None, span: None, cause, advice: RESTORE }
}

/// A series as its rows say.
struct Known {
    bank: String,
    name: String,
    gap_ms: i64,
    /// Stored channels by position.
    channels: Vec<String>,
}

struct Proof<'a> {
    connection: &'a Connection,
    path: &'a Path,
    progress: &'a mut dyn FnMut(Progress),
    timeline: Timeline,
    series: BTreeMap<SeriesId, Known>,
    thinned: BTreeSet<i64>,
    /// The last sample of each bank and boot, also one that was set aside.
    last: BTreeMap<(String, BootNo), i64>,
    total: u64,
    verified: Verified,
}

impl Proof<'_> {
    fn all(&mut self) -> Result<()> {
        (self.progress)(Progress::Pages);
        self.part(Proof::check_pages)?;
        self.part(Proof::check_references)?;
        self.part(Proof::read_series)?;
        self.part(Proof::read_set_aside)?;
        let places = self.part(Proof::places)?.unwrap_or_default();
        for place in places {
            self.part(|proof| proof.check_chunks(place))?;
            self.part(|proof| proof.check_tail(place))?;
        }
        self.part(Proof::check_blocks)?;
        self.part(Proof::check_spans)?;
        self.part(Proof::check_states)?;
        self.part(Proof::check_record)?;
        self.part(Proof::check_slate)?;
        Ok(())
    }

    /// Does a part of the proof; pages that are damaged under it are a finding and end that part only.
    fn part<T>(&mut self, work: impl FnOnce(&mut Self) -> rusqlite::Result<T>) -> Result<Option<T>> {
        match work(self).map_err(|e| Error::sqlite(self.path, "read it", e)) {
            Ok(done) => Ok(Some(done)),
            Err(Error::Damaged { cause, .. }) => {
                self.find(whole_file(cause));
                Ok(None)
            }
            Err(error) => Err(error),
        }
    }

    fn find(&mut self, finding: Finding) {
        if finding.bank.as_deref().is_some_and(nobody_reads) {
            return;
        }
        if self.verified.findings.len() < MOST_FINDINGS {
            self.verified.findings.push(finding);
        } else {
            self.verified.further += 1;
        }
    }

    /// A finding about a stretch of a series.
    fn find_at(&mut self, table: &'static str, stretch: Stretch, cause: impl Into<String>, advice: &'static str) {
        let Stretch { place: (id, boot), first_ms, last_ms } = stretch;
        let span = self.words(boot, first_ms, last_ms);
        let (bank, series) = match self.series.get(&id) {
            Some(known) => (Some(known.bank.clone()), Some(known.name.clone())),
            None => (None, Some(format!("number {}", id.0))),
        };
        self.find(Finding { table, bank, series, span: Some(span), cause: cause.into(), advice });
    }

    fn words(&self, boot: BootNo, first_ms: i64, last_ms: i64) -> String {
        let utc = |ms| self.timeline.utc(common::moment(boot.0, ms)).map(|placed| placed.utc);
        span_words(utc(first_ms).zip(utc(last_ms)), boot, first_ms, last_ms)
    }

    /// Counts samples as proved, from one moment to another.
    fn prove(&mut self, stretch: Stretch, count: usize) {
        let Stretch { place: (id, boot), first_ms, last_ms } = stretch;
        self.verified.samples += count as u64;
        self.reach(id, boot, last_ms);
        let utc = |ms| self.timeline.utc(common::moment(boot.0, ms)).map(|placed| placed.utc);
        if let Some((first, last)) = utc(first_ms).zip(utc(last_ms)) {
            let span = self.verified.span.get_or_insert((first, last));
            *span = (span.0.min(first), span.1.max(last));
        }
        (self.progress)(Progress::Samples { done: self.verified.samples, of: self.total.max(self.verified.samples) });
    }

    /// Notes until when samples of a bank's boot are known of.
    fn reach(&mut self, id: SeriesId, boot: BootNo, last_ms: i64) {
        if let Some(known) = self.series.get(&id) {
            let last = self.last.entry((known.bank.clone(), boot)).or_insert(last_ms);
            *last = (*last).max(last_ms);
        }
    }

    fn read_series(&mut self) -> rusqlite::Result<()> {
        self.timeline = common::load_timeline(self.connection)?;
        if self.connection.table_exists(None::<&str>, "thinned")? {
            let mut select = self.connection.prepare("SELECT chunk FROM thinned")?;
            self.thinned = select.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
        }
        let mut select = self.connection.prepare("SELECT id, bank, name, gap_ms FROM series")?;
        let rows = select.query_map([], |row| Ok((SeriesId(row.get(0)?), row.get(1)?, row.get(2)?, row.get(3)?)))?;
        for row in rows {
            let (id, bank, name, gap_ms) = row?;
            let channels = common::stored_channels(self.connection, id)?;
            self.series.insert(id, Known { bank, name, gap_ms, channels });
        }
        let total: i64 = self.connection.query_row("SELECT coalesce(sum(count), 0) FROM span", [], |row| row.get(0))?;
        self.total = u64::try_from(total).unwrap_or(0);
        Ok(())
    }

    /// Every series and boot that has chunks, a tail or summaries.
    fn places(&mut self) -> rusqlite::Result<Vec<Place>> {
        let mut select = self.connection.prepare(
            "SELECT series, boot FROM chunk UNION SELECT series, boot FROM tail
             UNION SELECT series, boot FROM hour_summary WHERE channel = ?1 OR channel = 0
             UNION SELECT series, boot FROM day_summary WHERE channel = ?1 OR channel = 0",
        )?;
        select.query_map([POWER], |row| Ok((SeriesId(row.get(0)?), BootNo(row.get(1)?))))?.collect()
    }
}

/// A series in a boot.
type Place = (SeriesId, BootNo);

/// A stretch of a series.
#[derive(Debug, Clone, Copy)]
struct Stretch {
    place: Place,
    first_ms: i64,
    last_ms: i64,
}
