//! SQLite.

mod block;
pub mod codec;
mod common;
mod error;
mod reader;
mod record;
mod schema;
mod summary;
mod thread;
mod writer;

pub use error::{Error, Result};
pub use reader::{History, HistoryChannel, HistoryQuery, Integral, Reader, Samples, StoredSample, Sums};
pub use record::*;
pub use summary::Summary;
pub use thread::{StoreStatus, WriterHandle, spawn};
pub use writer::{Appended, CommitReport, Options, Writer};
