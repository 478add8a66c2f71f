//! A few open readers of the store, lent to requests one at a time.

use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, PoisonError};

use super::problem::Problem;
use crate::store::{self, Reader, Result, Unreadable, WaitingFeed};

/// Readers kept open between requests: as many as a page asks at once.
const KEPT: usize = 4;

/// Told of what could not be read and is not set aside yet.
type Report = Arc<dyn Fn(Unreadable) + Send + Sync>;

/// Opens readers when they are needed and keeps a few.
#[derive(Clone)]
pub struct Readers {
    path: PathBuf,
    feed: WaitingFeed,
    idle: Arc<Mutex<Vec<Reader>>>,
    report: Option<Report>,
}

/// What a reader answered, and what it had to leave out.
pub(super) struct Lent<T> {
    pub(super) answer: T,
    pub(super) unreadable: Vec<Unreadable>,
}

impl Readers {
    /// Readers of the store at `path`, which see what its writer tells to `feed` too.
    #[must_use]
    pub fn new(path: PathBuf, feed: WaitingFeed) -> Readers {
        Readers { path, feed, idle: Arc::default(), report: None }
    }

    /// The same, telling `report` of each row that could not be read and is not set aside yet.
    #[must_use]
    pub fn reporting(self, report: impl Fn(Unreadable) + Send + Sync + 'static) -> Readers {
        Readers { report: Some(Arc::new(report)), ..self }
    }

    /// Path of the store.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Size of the store's file and of its log, bytes; 0 where there is none yet.
    pub(super) fn bytes(&self) -> u64 {
        store::bytes_with_log(&self.path)
    }

    /// Does `work` with a reader on a thread that may block.
    pub(super) async fn with<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Reader) -> Result<T> + Send + 'static,
    ) -> std::result::Result<T, Problem> {
        self.lent(work).await.map(|lent| lent.answer)
    }

    /// As [`Readers::with`], with what the answer lacks because it cannot be read.
    pub(super) async fn lent<T: Send + 'static>(
        &self,
        work: impl FnOnce(&Reader) -> Result<T> + Send + 'static,
    ) -> std::result::Result<Lent<T>, Problem> {
        let readers = self.clone();
        let done = tokio::task::spawn_blocking(move || readers.lend(work)).await;
        match done {
            Ok(result) => result.map_err(|error| Problem::store(&error)),
            Err(error) => Err(Problem::internal(format!("the reading of the store broke off: {error}"))),
        }
    }

    fn lend<T>(&self, work: impl FnOnce(&Reader) -> Result<T>) -> Result<Lent<T>> {
        let kept = self.idle.lock().unwrap_or_else(PoisonError::into_inner).pop();
        // Another file may be at the path by now.
        let kept = kept.filter(Reader::is_current);
        let reader = kept.map_or_else(|| Reader::open_fed(&self.path, self.feed.clone()), Ok)?;
        let answer = work(&reader);
        let unreadable = reader.take_unreadable();
        for row in unreadable.iter().filter(|row| !row.aside) {
            if let Some(report) = &self.report {
                report(row.clone());
            }
        }
        let mut idle = self.idle.lock().unwrap_or_else(PoisonError::into_inner);
        if idle.len() < KEPT {
            idle.push(reader);
        }
        answer.map(|answer| Lent { answer, unreadable })
    }
}
