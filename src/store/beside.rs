//! Names of what lies beside a store's file, and its folder.

use std::path::{Path, PathBuf};

/// What SQLite and the store keep beside a file: log, index of the log, journal of a change, slate.
pub(super) const BESIDE: [&str; 4] = [LOG, "-shm", "-journal", SLATE];
/// The write-ahead log.
pub(super) const LOG: &str = "-wal";
/// The slate.
pub(super) const SLATE: &str = "-slate";

/// A path with something added to its last name.
pub(super) fn with_end(path: &Path, end: &str) -> PathBuf {
    let mut name = path.as_os_str().to_owned();
    name.push(end);
    PathBuf::from(name)
}

/// The folder that a file lies in.
pub(super) fn folder_of(path: &Path) -> &Path {
    path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Size of a store's file and of its log, bytes; 0 where there is none yet.
#[must_use]
pub fn bytes_with_log(store: &Path) -> u64 {
    ["", LOG]
        .iter()
        .filter_map(|end| std::fs::metadata(with_end(store, end)).ok())
        .fold(0, |sum, file| sum + file.len())
}
