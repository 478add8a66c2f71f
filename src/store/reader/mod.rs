//! Readers: read-only connections that see what is committed and never hold up the writer.

mod between;
mod bins;
mod clock;
mod columns;
mod history;
mod integral;
mod kept;
mod lived;
mod records;
mod samples;
mod scan;
mod singly;
mod skipped;
mod stretches;
mod summaries;
mod unpacked;
mod watched;

use std::cell::{Cell, RefCell};
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use rusqlite::{Connection, Transaction};

use super::block::POWER;
use super::error::{Error, Result};
use super::record::{SeriesId, SeriesInfo, StoredAnchor};
use super::unreadable::Unreadable;
use super::waiting::{Loaded, WaitingFeed};
use super::{common, schema};
use crate::quantity::{BootNo, Timeline, UtcMs};

pub use columns::{ColumnWalk, SampleColumns};
pub use history::{History, HistoryChannel, HistoryQuery};
pub use integral::{Integral, Sums};
pub use lived::BootSpan;
pub use samples::{Samples, StoredSample};
pub use stretches::Stretch;

/// A read-only connection. Cheap; open one per thread.
#[derive(Debug)]
pub struct Reader {
    path: PathBuf,
    /// Which file it was when it was opened.
    file: Option<FileId>,
    connection: Connection,
    /// With the number of the last clock fix in it: fixes are only ever added.
    timeline: RefCell<Option<(i64, Arc<Timeline>)>>,
    skipped: RefCell<Vec<Unreadable>>,
    /// False in a file of an early layout, where nothing is ever set aside.
    sets_aside: bool,
    feed: WaitingFeed,
    loaded: Cell<Loaded>,
}

/// Keeps what a reader sees as it is; `None` within another that does.
#[derive(Debug)]
struct Snapshot<'r>(#[expect(dead_code, reason = "it is there to be dropped")] Option<Transaction<'r>>);

/// A file by its device and inode.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct FileId(u64, u64);

impl FileId {
    fn of(path: &Path) -> Option<FileId> {
        std::fs::metadata(path).ok().map(|file| FileId(file.dev(), file.ino()))
    }
}

impl Reader {
    /// Opens a store that a writer has made.
    ///
    /// # Errors
    /// [`Error::NotOurs`] also where there is nothing in the file yet, [`Error::TooNew`], [`Error::Damaged`], or what
    /// SQLite reports.
    pub fn open(path: &Path) -> Result<Reader> {
        Reader::open_fed(path, WaitingFeed::default())
    }

    /// As [`Reader::open`]; sees what waits for a commit too, as far as the writer's thread has told it to `feed`.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn open_fed(path: &Path, feed: WaitingFeed) -> Result<Reader> {
        let file = FileId::of(path);
        let connection = schema::open_reader(path)?;
        let sets_aside = connection
            .table_exists(None::<&str>, "set_aside")
            .map_err(|error| Error::sqlite(path, "look at its tables", error))?;
        Ok(Reader {
            path: path.to_owned(),
            file,
            connection,
            timeline: RefCell::new(None),
            skipped: RefCell::new(Vec::new()),
            sets_aside,
            feed,
            loaded: Cell::new(Loaded::default()),
        })
    }

    /// False once another file is at the path: a broken one was renamed, or a copy was put in its place.
    #[must_use]
    pub fn is_current(&self) -> bool {
        self.file == FileId::of(&self.path)
    }

    /// All boots with their clock fixes.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn timeline(&self) -> Result<Arc<Timeline>> {
        let err = self.err("read its clock fixes");
        let last: i64 = self
            .connection
            .prepare_cached("SELECT coalesce(max(id), 0) FROM clock_fix")
            .and_then(|mut select| select.query_row([], |row| row.get(0)))
            .map_err(&err)?;
        if let Some((known, timeline)) = &*self.timeline.borrow()
            && *known == last
        {
            return Ok(Arc::clone(timeline));
        }
        let timeline = Arc::new(common::load_timeline(&self.connection).map_err(&err)?);
        *self.timeline.borrow_mut() = Some((last, Arc::clone(&timeline)));
        Ok(timeline)
    }

    /// The anchors of a bank, line by line, each in the order of its runs.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn anchors(&self, bank: &str) -> Result<Vec<StoredAnchor>> {
        common::load_anchors(&self.connection, bank).map_err(self.err("read its anchors"))
    }

    /// Every boot in the order in which they were first seen: its number, its id, and its kind.
    pub(in crate::store) fn boots(&self) -> Result<Vec<(BootNo, String, String)>> {
        let read = || -> rusqlite::Result<Vec<_>> {
            self.connection
                .prepare_cached("SELECT no, boot_id, kind FROM boot ORDER BY no")?
                .query_map([], |row| Ok((BootNo(row.get(0)?), row.get(1)?, row.get(2)?)))?
                .collect()
        };
        read().map_err(self.err("read its boots"))
    }

    /// All series, in the order in which they were first seen.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn all_series(&self) -> Result<Vec<SeriesInfo>> {
        let err = self.err("read its series");
        let mut select = self.connection.prepare_cached("SELECT id FROM series ORDER BY id").map_err(&err)?;
        let ids = select.query_map([], |row| row.get(0).map(SeriesId)).map_err(&err)?;
        let ids: Vec<SeriesId> = ids.collect::<rusqlite::Result<_>>().map_err(&err)?;
        ids.into_iter().map(|id| self.series(id)).collect()
    }

    /// One series.
    ///
    /// # Errors
    /// [`Error::UnknownSeries`], or what SQLite reports.
    pub fn series(&self, id: SeriesId) -> Result<SeriesInfo> {
        let read = || -> rusqlite::Result<SeriesInfo> {
            let has_power = self
                .connection
                .prepare_cached("SELECT 1 FROM channel WHERE series = ?1 AND position = ?2")?
                .exists([id.0, POWER])?;
            let channels = common::stored_channels(&self.connection, id)?;
            let own_power = channels.iter().any(|name| name == common::POWER_NAME);
            self.connection.prepare_cached("SELECT name, kind, bank, gap_ms FROM series WHERE id = ?1")?.query_row(
                [id.0],
                |row| {
                    Ok(SeriesInfo {
                        id,
                        name: row.get(0)?,
                        kind: row.get(1)?,
                        bank: row.get(2)?,
                        channels,
                        has_power: has_power && !own_power,
                        gap_ms: row.get(3)?,
                    })
                },
            )
        };
        read().map_err(|error| match error {
            rusqlite::Error::QueryReturnedNoRows => Error::UnknownSeries(id.0),
            other => self.err("read the series")(other),
        })
    }

    /// UTC of the first and of the last committed sample of a series; `None` if it has none that can be placed.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn reach(&self, id: SeriesId) -> Result<Option<(UtcMs, UtcMs)>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let firsts = self.extents(id)?.into_iter().map(|extent| extent.first());
        let lasts = common::last_moments(&self.connection, Some(id)).map_err(self.err("read its last moments"))?;
        let utc = |at| timeline.utc(at).map(|placed| placed.utc);
        let first = firsts.filter_map(utc).min();
        Ok(first.zip(lasts.into_iter().filter_map(utc).max()))
    }

    /// All statements until this is dropped see the same state of the store, with what waits for the commit after it; those
    /// of a snapshot within another see that of the outer one.
    fn snapshot(&self) -> Result<Snapshot<'_>> {
        if !self.connection.is_autocommit() {
            return Ok(Snapshot(None));
        }
        self.begin_snapshot().map(|begun| Snapshot(Some(begun)))
    }

    fn begin_snapshot(&self) -> Result<Transaction<'_>> {
        let begin = || self.connection.unchecked_transaction().map_err(self.err("begin to read"));
        let mut waiting = self.feed.latest();
        while waiting.is_told() {
            self.load(|loaded| loaded.follow(&self.connection, &waiting))?;
            let snapshot = begin()?;
            if self.mark()? == waiting.mark {
                return Ok(snapshot);
            }
            let newer = self.feed.latest();
            if newer.is_same(&waiting) {
                // A commit that is not told yet has taken all of it.
                drop(snapshot);
                self.load(|loaded| loaded.forget(&self.connection))?;
                return begin();
            }
            waiting = newer;
        }
        begin()
    }

    fn load(&self, change: impl FnOnce(&mut Loaded) -> rusqlite::Result<()>) -> Result<()> {
        let mut loaded = self.loaded.get();
        let changed = change(&mut loaded).map_err(self.err("take in what waits for a commit"));
        self.loaded.set(loaded);
        changed
    }

    /// The mark of the last commit in sight.
    fn mark(&self) -> Result<i64> {
        common::mark(&self.connection).map_err(self.err("read the mark of its last commit"))
    }

    fn err(&self, what: &'static str) -> impl Fn(rusqlite::Error) -> Error + '_ {
        move |error| Error::sqlite(&self.path, what, error)
    }
}
