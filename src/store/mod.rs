//! Every sample for the life of a bank, in one SQLite file.
//!
//! # The life of a sample
//! 1. [`Writer::append`] puts it into the open block of its series, in memory. Nothing is written.
//! 2. [`Writer::secure`], when the oldest sample that is not safe has waited for [`Pace::secure_after`], writes all that
//!    no commit holds to the slate, a small file beside the store ([`slate`]).
//! 3. [`Writer::commit`], every [`Pace::commit_every`], and in place of a note as soon as a fix, an event, a clock fix or
//!    a closed hour waits, writes what the block has gained as one small row of the table `tail`, together with those
//!    records and the saved states: one transaction, one fsync. The notes on the slate are void from then on.
//! 4. When the first sample of the next hour (of the boot, not of the day) comes, the block closes: it is packed into
//!    one chunk, and summarised by minutes, hours and days. The next commit writes chunk and summaries and deletes the
//!    rows of the tail that they replace, in the same transaction. A series slower than 600 samples an hour waits for
//!    so many; a very fast one closes each 65,536 samples.
//! 5. A restart in the same boot takes the tail up again as the open block, and commits what the slate holds. A new boot
//!    closes it.
//! 6. [`Reader`] answers from days, hours, minutes or samples, whichever is coarse enough for the question, and always
//!    adds the tail, and within the writer's process what waits for a commit ([`WaitingFeed`]). UTC is worked out then,
//!    from the clock fixes known then: nothing stored is ever re-dated.
//!
//! # What is at risk, and when
//! - What was appended since the last note or commit, at a power cut: at most [`Pace::secure_after`] and the time of one
//!   note.
//! - Nothing that a note or a commit has acknowledged, as far as the card keeps its promise to have written what was
//!   synced: a commit by SQLite's own contract (WAL with `synchronous = FULL`), a note by two slots with checksums, of
//!   which only the older one is ever written over.
//! - Nothing while the card is full, locked or read-only: a commit that fails leaves all as it was, in memory too, and
//!   the slate, which never grows, still takes half a day of a device at 1 Hz. Closed hours wait in memory packed, about
//!   5,000 bytes each for three channels at 1 Hz, up to [`Options::pending_bytes`], which is two months; then they are
//!   thinned to a sample a minute, and only then the oldest are dropped. Both is counted, and said in table `thinned`.
//! - A saved state of the reckoning may be up to [`Pace::commit_every`] older than the last safe sample; a start takes it
//!   through the samples since. It is never newer than the samples that are safe.
//!
//! # What becomes of damage
//! - A row of a chunk, of minutes or of the tail that does not decode: readers go on over it and name it
//!   ([`Reader::take_unreadable`]); for minutes the samples stand in. The daemon has it set aside
//!   ([`WriterHandle::set_aside`]): its bytes go into table `set_aside`. The row of a chunk stays, emptied, for its minutes
//!   and its place are still right; minutes are made anew from the samples; a row of the tail is written anew while its
//!   samples are in memory.
//! - Pages that SQLite itself cannot read: the rows in them are left out and named, and stay where they are.
//! - A file that SQLite calls damaged when it is opened or written: it is renamed with what belongs to it, and a new one
//!   begun ([`Writer::open_anew`], [`Writer::begin_anew`]), which everything in memory goes into. Never for a card that is
//!   full, locked, read-only or answers with an error of input and output: that may pass.
//! - [`verify`] proves a store sound: it decodes every sample and makes every sum again.
//!
//! # Why a file beside SQLite
//! A commit each few seconds wears a card most by what the file system notes about it in its own journal. Measured on
//! ext4 (`flash_bench`), the slate halves what reaches the card. It is the simplest thing that can: it never grows, has
//! one reader (the next start), and the store is whole without it, but for the last minutes.
//!
//! # Why each PRAGMA
//! - `journal_mode = WAL`: readers never wait for the writer nor hold it up, and a commit appends to one file.
//! - `synchronous = FULL`: with `NORMAL` a WAL is synced only when it is taken into the file, after a thousand pages;
//!   a power cut then loses minutes, not seconds. The price is one fsync a commit.
//! - `auto_vacuum = INCREMENTAL`, before the first table: room can be given back later without a full `VACUUM`, which
//!   needs the room twice and wears the card.
//! - `foreign_keys = ON`: no sample without its boot and its series.
//! - `busy_timeout`: a person with an SQLite tool may hold a lock for a moment.
//! - `application_id`, `user_version`: whose file it is and of which layout. A later layout than this program knows is
//!   refused before anything is written.
//! - `quick_check` when a small file is opened. A large one would take seconds; there the checksum of each chunk and
//!   SQLite's own checks where it reads have to do.

mod beside;
mod block;
pub mod codec;
mod common;
mod copy;
mod error;
mod info;
mod kept;
mod reader;
mod record;
mod schema;
pub mod slate;
mod summary;
mod thread;
mod unreadable;
mod verify;
mod waiting;
mod writer;

pub use beside::bytes_with_log;
pub use copy::{
    Broken, Copied, CopyError, CopyProgress, CopyStep, PutBack, Soundness, copy, finish_put_back, put_back,
};
pub use error::{Error, Result};
pub use info::{Growth, SeriesSize, StoreInfo, info, table_sizes};
pub use kept::{Origin, PassageEdit, StoredFinding, StoredPassage, StoredTest, SurveyBatch, SurveyState, TestState};
pub use reader::{
    BootSpan, ColumnWalk, History, HistoryChannel, HistoryQuery, Integral, Reader, SampleColumns, Samples,
    StoredSample, Stretch, Sums,
};
pub use record::*;
pub use summary::Summary;
pub use thread::{News, Pace, StoreStatus, WriterHandle, spawn};
pub use unreadable::{Source, Unreadable, span_words};
pub use verify::{Finding, Progress, Verified, verify};
pub use waiting::WaitingFeed;
pub use writer::{Anew, Appended, CommitReport, Found, Options, Outcome, Piece, Writer, draft_of, replaced_of};
