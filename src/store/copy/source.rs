//! The store that is copied, as it was at one instant.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, ErrorCode};

use super::{CopyError, CopyProgress, CopyStep, file_error, free_bytes};
use crate::store::beside::folder_of;
use crate::store::error::{Error, Result};

use crate::store::slate;
use crate::store::writer::{Options, Writer};
use crate::store::{common, schema};

/// Pages in one step: 2 MiB, a tenth of a second on a slow card, between two words of progress.
const STEP_PAGES: i32 = 512;
/// How long to wait where a lock is held for the moment.
const BUSY: Duration = Duration::from_millis(50);
/// Commits come minutes apart: one between two reads is rare, ten in a row is no daemon of ours.
const TRIES: usize = 10;
/// The layout that brought the slate.
const LAYOUT_OF_SLATE: i64 = 3;

/// A store with a snapshot held on it.
pub(super) struct Source {
    path: PathBuf,
    pub(super) connection: Connection,
    bytes: u64,
    /// The slate's bytes, if the note in them follows the snapshot's last commit.
    slate: Option<Vec<u8>>,
}

impl Source {
    pub(super) fn open(path: &Path) -> Result<Source> {
        let mut source = Source::snapshot(path)?;
        let err = |e| Error::sqlite(path, "begin to copy it", e);
        let layout: i64 = source.connection.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(err)?;
        if layout < LAYOUT_OF_SLATE {
            return Ok(source);
        }
        for _ in 0..TRIES {
            let mark = common::mark(&source.connection).map_err(err)?;
            // A slate that cannot be read is as good as none.
            let file = std::fs::read(slate::path_of(path)).unwrap_or_default();
            let now = schema::open_reader(path).and_then(|connection| mark_of(&connection, path))?;
            if now == mark {
                let follows = |note: slate::Note| common::is_followed_by(&source.connection, note.mark);
                let follows = slate::latest_note(&file).map(follows).transpose().map_err(err)?;
                source.slate = follows.unwrap_or(false).then_some(file);
                break;
            }
            // A commit came in between: its samples are on no slate any more, and the snapshot does not have them.
            source = Source::snapshot(path)?;
        }
        Ok(source)
    }

    fn snapshot(path: &Path) -> Result<Source> {
        let connection = schema::open_reader(path)?;
        let bytes = connection
            .execute_batch("BEGIN")
            // The first read takes the snapshot; it is held until the connection closes.
            .and_then(|()| connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get::<_, i64>(0)))
            .and_then(|_| schema::size_bytes(&connection))
            .map_err(|e| Error::sqlite(path, "begin to copy it", e))?;
        Ok(Source { path: path.to_owned(), connection, bytes: bytes.unsigned_abs(), slate: None })
    }

    pub(super) fn check_room(&self, to: &Path) -> std::result::Result<(), CopyError> {
        let folder = folder_of(to);
        let free_bytes = free_bytes(folder).map_err(file_error(folder, "look at"))?;
        let needs_bytes = self.bytes;
        if needs_bytes <= free_bytes {
            Ok(())
        } else {
            Err(CopyError::NoRoom { folder: folder.to_owned(), needs_bytes, free_bytes })
        }
    }

    /// Writes the copy: every page, then the samples of the slate.
    pub(super) fn copy_to(&self, to: &Path, progress: CopyProgress<'_>) -> std::result::Result<(), CopyError> {
        self.copy_pages(to, progress)?;
        if let Some(file) = &self.slate {
            self.take_slate_in(to, file)?;
        }
        // No log from here on: one file, which opens on a medium that cannot be written, too.
        let err = |e| self.write_error(to, e);
        let target = Connection::open(to).map_err(err)?;
        target.query_row("PRAGMA journal_mode = DELETE", [], |_| Ok(())).map_err(err)?;
        target.close().map_err(|(_, e)| err(e))
    }

    fn copy_pages(&self, to: &Path, progress: CopyProgress<'_>) -> std::result::Result<(), CopyError> {
        let err = |e| self.write_error(to, e);
        let mut target = Connection::open(to).map_err(err)?;
        // Until it is renamed nobody relies on it: it is synced once, when all of it is there.
        target.execute_batch("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;").map_err(err)?;
        let backup = Backup::new(&self.connection, &mut target).map_err(err)?;
        loop {
            let step = backup.step(STEP_PAGES).map_err(|e| match e.sqlite_error_code() {
                Some(ErrorCode::DatabaseCorrupt) => Error::sqlite(&self.path, "read it", e).into(),
                _ => err(e),
            })?;
            let pages = backup.progress();
            let total = u64::from(pages.pagecount.unsigned_abs());
            progress(CopyStep::Copying, total - u64::from(pages.remaining.unsigned_abs()), total);
            match step {
                StepResult::Done => return Ok(()),
                StepResult::Busy | StepResult::Locked => std::thread::sleep(BUSY),
                _ => {}
            }
        }
    }

    fn take_slate_in(&self, to: &Path, file: &[u8]) -> std::result::Result<(), CopyError> {
        let beside = slate::path_of(to);
        std::fs::write(&beside, file).map_err(file_error(&beside, "write"))?;
        let taken = Writer::open(to, Options::default()).and_then(|mut writer| {
            // Opening does not fail for want of room, a commit does.
            writer.commit()?;
            writer.close()
        });
        match taken {
            Err(Error::Full { .. }) => return Err(self.no_room(to)),
            taken => taken?,
        };
        std::fs::remove_file(&beside).map_err(file_error(&beside, "remove"))
    }

    fn write_error(&self, to: &Path, error: rusqlite::Error) -> CopyError {
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => self.no_room(to),
            _ => Error::sqlite(to, "write the copy", error).into(),
        }
    }

    fn no_room(&self, to: &Path) -> CopyError {
        let folder = folder_of(to);
        let free_bytes = free_bytes(folder).unwrap_or(0);
        CopyError::NoRoom { folder: folder.to_owned(), needs_bytes: self.bytes, free_bytes }
    }
}

fn mark_of(connection: &Connection, path: &Path) -> Result<i64> {
    common::mark(connection).map_err(|e| Error::sqlite(path, "read the mark of its last commit", e))
}
