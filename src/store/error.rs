//! What can go wrong with the store.

use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;

/// Shorthand for results of the store.
pub type Result<T> = std::result::Result<T, Error>;

/// What can go wrong with the store.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The file is no sound database.
    #[error(
        "{path} is damaged ({cause}); nothing was changed in it: keep the file, and restore a copy or begin a new one"
    )]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        cause: String,
    },
    /// The file is no sound database, and cannot be put out of the way either.
    #[error(
        "{path} is damaged ({cause}), and could not be renamed to begin a new one: {source}; what is not yet written is kept in memory"
    )]
    NotRenamed {
        /// The file.
        path: PathBuf,
        /// What was found.
        cause: String,
        /// Why it cannot be renamed.
        source: std::io::Error,
    },
    /// A later program wrote the file.
    #[error(
        "{path} was written by a later version of taffrail (layout {found}, this program knows {known}); install that version or a later one"
    )]
    TooNew {
        /// The file.
        path: PathBuf,
        /// Layout of the file.
        found: i64,
        /// Latest layout that this program knows.
        known: i64,
    },
    /// A database, but not one of ours.
    #[error("{path} is a database of another program; name another file")]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// No room left on the card.
    #[error("{path} cannot grow, the card is full: make room; what is not yet written is kept in memory")]
    Full {
        /// The file.
        path: PathBuf,
    },
    /// The card takes nothing.
    #[error(
        "{path} cannot be written, the card or the folder is read-only: check the card and how it is mounted; what is not yet written is kept in memory"
    )]
    ReadOnly {
        /// The file.
        path: PathBuf,
    },
    /// SQLite refused.
    #[error("{path}: could not {what}: {source}")]
    Sqlite {
        /// The file.
        path: PathBuf,
        /// What was being done.
        what: &'static str,
        /// SQLite's own words.
        source: rusqlite::Error,
    },
    /// The folder that the file lies in.
    #[error("cannot look at the folder {path}: {cause}")]
    Folder {
        /// The folder.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: std::io::Error,
    },
    /// A sample with another number of values than its series has channels.
    #[error("a sample of series \"{series}\" has {given} values, and the series has {channels} channels")]
    ChannelCount {
        /// Name of the series.
        series: String,
        /// Values given.
        given: usize,
        /// Channels of the series.
        channels: usize,
    },
    /// A series with more channels than a chunk can hold, or the same channel twice.
    #[error("series \"{series}\" cannot be kept: {cause}")]
    SeriesRefused {
        /// Name of the series.
        series: String,
        /// Why.
        cause: String,
    },
    /// A series that this store does not know.
    #[error("there is no series {0} in this store")]
    UnknownSeries(i64),
    /// A boot that was not begun in this store.
    #[error("there is no boot {0} in this store")]
    UnknownBoot(u32),
    /// A channel that the series does not have.
    #[error("series {series} has no channel \"{channel}\"")]
    UnknownChannel {
        /// Number of the series.
        series: i64,
        /// The channel asked for.
        channel: String,
    },
    /// Something that cannot be done to passages; the text says why.
    #[error("{0}")]
    Passage(String),
    /// A result that no text can hold.
    #[error("{0} cannot be kept: it holds a number that is not finite; report this as a fault of the program")]
    Unkept(String),
    /// The thread could not be started.
    #[error("the store's thread could not be started: {0}")]
    Thread(#[source] std::io::Error),
    /// The thread has ended.
    #[error("the store's thread has ended; what is sent to it now is not kept")]
    Stopped,
}

impl Error {
    /// True if the same may succeed later with nothing changed but the circumstances: a full card, a lock, a card
    /// that is read-only for the moment.
    #[must_use]
    pub fn is_transient(&self) -> bool {
        match self {
            // A folder that is read-only lets no file be renamed.
            Error::Full { .. } | Error::ReadOnly { .. } | Error::NotRenamed { .. } => true,
            Error::Sqlite { source, .. } => matches!(
                source.sqlite_error_code(),
                Some(
                    ErrorCode::DatabaseBusy
                        | ErrorCode::DatabaseLocked
                        | ErrorCode::SystemIoFailure
                        | ErrorCode::CannotOpen
                )
            ),
            _ => false,
        }
    }

    /// Sorts what SQLite reports while `what` is done.
    pub(super) fn sqlite(path: &Path, what: &'static str, source: rusqlite::Error) -> Error {
        let path = path.to_owned();
        match source.sqlite_error_code() {
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                Error::Damaged { path, cause: source.to_string() }
            }
            Some(ErrorCode::DiskFull) => Error::Full { path },
            Some(ErrorCode::ReadOnly) => Error::ReadOnly { path },
            _ => Error::Sqlite { path, what, source },
        }
    }
}
