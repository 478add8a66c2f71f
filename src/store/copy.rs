//! Copies of the store: made while the daemon writes, checked before they count, and put back.
//!
//! # Why SQLite's online backup within one read transaction
//! The source is read through a connection that holds a snapshot, so the copy is the store of one instant however long
//! it takes, and commits meanwhile neither wait nor make the copy begin anew (as they would with a backup that lets go
//! of its snapshot between steps). `VACUUM INTO` would give the same instant and a file without free pages, but it
//! rebuilds every tree: it stops at the first broken page, tells nothing of its progress, and reads and compares each row
//! instead of moving pages. A copy of the file by other means would miss what is still in the log.
//! The price of a snapshot is that the log cannot begin anew until the copy is done.
//!
//! Samples that are on the slate and in no commit yet are taken into the copy, as a start would take them in.
//!
//! # When a copy counts
//! It is written to `FILE.partial`, taken out of WAL mode (so that it is one file, and can be read from a medium that
//! cannot be written), read back and checked, synced, and only then renamed to its name. A copy that fails leaves nothing.

mod check;
mod put_back;
mod source;

use std::fs::File;
use std::path::{Path, PathBuf};

use super::beside::{BESIDE, folder_of, with_end};
use super::error::Error;
use check::Checked;
pub use check::{Broken, Soundness};
pub use put_back::{PutBack, finish_put_back, put_back};
use source::Source;

/// Why there is no copy, or nothing was put back. Nothing was changed then, unless it says so.
#[derive(Debug, thiserror::Error)]
pub enum CopyError {
    /// The store that is copied, or the copy that is put back.
    #[error(transparent)]
    Store(#[from] Error),
    /// There is a file of that name.
    #[error("{0} is there already; name another file, or add --replace to put the new copy in its place")]
    Exists(PathBuf),
    /// The target is what is to be copied.
    #[error("{0} belongs to the store itself; name a file elsewhere, best on another card")]
    IsTheStore(PathBuf),
    /// The target is no name for a file.
    #[error("{0} is a folder; name the file in it that is to be written")]
    IsFolder(PathBuf),
    /// Another program is at the target.
    #[error(
        "{0} lies there: another program has the old file open or was cut off; close it, or remove that file first"
    )]
    Beside(PathBuf),
    /// No room for the copy.
    #[error(
        "no room in {folder}: the copy needs {needs_bytes} bytes and {free_bytes} are free; make room, or name a file elsewhere"
    )]
    NoRoom {
        /// Folder of the target.
        folder: PathBuf,
        /// What the copy takes.
        needs_bytes: u64,
        /// What is free there.
        free_bytes: u64,
    },
    /// The copy differs from what was read, so the medium is not to be relied on.
    #[error("the copy does not read back as it was written ({0}); it was removed: use another card")]
    ReadsBackWrong(String),
    /// What is to be put back is broken in places.
    #[error(
        "{path} has {count} pieces that cannot be read, the first: {first}; use an older copy, or add --accept-damage to put it back with all that can be read"
    )]
    Broken {
        /// The file.
        path: PathBuf,
        /// How many pieces.
        count: usize,
        /// The first of them.
        first: Broken,
    },
    /// The operating system refused.
    #[error("cannot {what} {path}: {cause}")]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        what: &'static str,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
}

/// How far a copy is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CopyStep {
    /// Pages copied.
    Copying,
    /// Pieces read back.
    Checking,
}

/// Told what is done of how much.
pub type CopyProgress<'a> = &'a mut dyn FnMut(CopyStep, u64, u64);

/// A finished copy.
#[derive(Debug, Clone, PartialEq)]
pub struct Copied {
    /// Size of the file.
    pub bytes: u64,
    /// What was read back. Pieces that are broken in the copy are so in the store, byte for byte.
    pub soundness: Soundness,
}

/// Copies the store at `from`, which may be in use, to a file at `to`; `replace` allows one to be there.
///
/// # Errors
/// [`CopyError`]; then there is nothing new at `to` or beside it.
pub fn copy(from: &Path, to: &Path, replace: bool, progress: CopyProgress<'_>) -> Result<Copied, CopyError> {
    check_target(from, to, replace)?;
    let mut partial = Partial::beside(to, "partial")?;
    let copied = copy_and_check(from, &partial.path, progress)?;
    // Somebody may have written there meanwhile.
    check_target(from, to, replace)?;
    partial.rename(to)?;
    Ok(copied)
}

/// Copies, checks and syncs, without giving the copy its name.
fn copy_and_check(from: &Path, to: &Path, progress: CopyProgress<'_>) -> Result<Copied, CopyError> {
    let source = Source::open(from)?;
    source.check_room(to)?;
    source.copy_to(to, progress)?;
    let soundness = match check::check(to, progress)? {
        Checked::Sound(soundness) if soundness.broken.is_empty() => soundness,
        // Broken by the copying, or already so where it came from?
        Checked::Sound(soundness) => match check::check_on(&source.connection, from, &mut |_, _, _| {})? {
            Checked::Sound(origin) if soundness.broken.iter().all(|piece| origin.broken.contains(piece)) => soundness,
            _ => return Err(CopyError::ReadsBackWrong(soundness.broken[0].to_string())),
        },
        Checked::Damaged(cause) => {
            return Err(match check::check_on(&source.connection, from, &mut |_, _, _| {})? {
                Checked::Damaged(cause) => Error::Damaged { path: from.to_owned(), cause }.into(),
                Checked::Sound(_) => CopyError::ReadsBackWrong(cause),
            });
        }
    };
    let file = File::open(to).map_err(file_error(to, "open"))?;
    file.sync_all().map_err(file_error(to, "sync"))?;
    let bytes = file.metadata().map_err(file_error(to, "look at"))?.len();
    Ok(Copied { bytes, soundness })
}

fn check_target(from: &Path, to: &Path, replace: bool) -> Result<(), CopyError> {
    if to.is_dir() || to.file_name().is_none() {
        return Err(CopyError::IsFolder(to.to_owned()));
    }
    let place = |path: &Path| Some((folder_of(path).canonicalize().ok()?, path.file_name()?.to_owned()));
    let own = std::iter::once(from.to_owned()).chain(BESIDE.iter().map(|end| with_end(from, end)));
    if own.into_iter().any(|path| place(&path) == place(to)) || same_file(from, to) {
        return Err(CopyError::IsTheStore(to.to_owned()));
    }
    if !replace && to.symlink_metadata().is_ok() {
        return Err(CopyError::Exists(to.to_owned()));
    }
    // A log beside the new file would be taken for its own.
    match BESIDE.iter().map(|end| with_end(to, end)).find(|path| path.exists()) {
        Some(path) => Err(CopyError::Beside(path)),
        None => Ok(()),
    }
}

fn same_file(a: &Path, b: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let identity = |path: &Path| path.metadata().ok().map(|meta| (meta.dev(), meta.ino()));
    identity(a).is_some_and(|a| identity(b) == Some(a))
}

/// A copy that does not count yet; dropped, it is removed with all that lies beside it.
struct Partial {
    path: PathBuf,
}

impl Partial {
    /// `FILE.END`; what an earlier attempt left there goes.
    fn beside(to: &Path, end: &str) -> Result<Partial, CopyError> {
        let partial = Partial { path: with_end(to, &format!(".{end}")) };
        partial.remove().map_err(file_error(&partial.path, "remove what is left of an earlier attempt at"))?;
        Ok(partial)
    }

    fn remove(&self) -> std::io::Result<()> {
        let all = std::iter::once(self.path.clone()).chain(BESIDE.iter().map(|end| with_end(&self.path, end)));
        for path in all {
            match std::fs::remove_file(path) {
                Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
                _ => {}
            }
        }
        Ok(())
    }

    /// Gives it its name, for good.
    fn rename(&mut self, to: &Path) -> Result<(), CopyError> {
        std::fs::rename(&self.path, to).map_err(file_error(to, "rename the copy to"))?;
        sync_folder(folder_of(to))
    }
}

impl Drop for Partial {
    fn drop(&mut self) {
        // Renamed, it is not there any more; what cannot be removed is removed by the next attempt.
        let _ = self.remove();
    }
}

fn sync_folder(folder: &Path) -> Result<(), CopyError> {
    File::open(folder).and_then(|opened| opened.sync_all()).map_err(file_error(folder, "sync the folder"))
}

/// Bytes that a user without privileges can still write to the file system of a folder.
pub(super) fn free_bytes(folder: &Path) -> std::io::Result<u64> {
    let system = rustix::fs::statvfs(folder)?;
    Ok(system.f_bavail.saturating_mul(system.f_frsize))
}

fn file_error(path: &Path, what: &'static str) -> impl FnOnce(std::io::Error) -> CopyError {
    let path = path.to_owned();
    move |cause| CopyError::File { path, what, cause }
}
