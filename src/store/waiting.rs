//! What waits for a commit, for readers of the same process.

use std::sync::{Arc, Mutex, PoisonError};

use rusqlite::{Connection, params};

use super::slate::Stretch;

/// Hands what waits from the writer's thread to readers. Cheap to clone.
#[derive(Debug, Clone, Default)]
pub struct WaitingFeed(Arc<Mutex<Arc<Waiting>>>);

/// Samples that follow a commit and are in none yet.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    /// Mark of the commit that they follow.
    pub(super) mark: i64,
    /// Rises with each change.
    sequence: u64,
    stretches: Vec<Stretch>,
}

impl WaitingFeed {
    /// Replaces what readers may see.
    pub(super) fn publish(&self, mark: i64, stretches: Vec<Stretch>) {
        let mut present = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let sequence = present.sequence + 1;
        *present = Arc::new(Waiting { mark, sequence, stretches });
    }

    pub(super) fn latest(&self) -> Arc<Waiting> {
        Arc::clone(&self.0.lock().unwrap_or_else(PoisonError::into_inner))
    }
}

impl Waiting {
    /// False before the writer's thread has told anything.
    pub(super) const fn is_told(&self) -> bool {
        self.sequence > 0
    }

    pub(super) const fn is_same(&self, other: &Waiting) -> bool {
        self.sequence == other.sequence
    }
}

/// Which state of what waits a reader has in its table `waiting`; 0 for an empty table.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Loaded(u64);

impl Loaded {
    /// Brings the table of a connection up to what is published.
    pub(super) fn follow(&mut self, connection: &Connection, waiting: &Waiting) -> rusqlite::Result<()> {
        if self.0 == waiting.sequence {
            return Ok(());
        }
        let tx = connection.unchecked_transaction()?;
        tx.prepare_cached("DELETE FROM temp.waiting")?.execute([])?;
        let mut insert = tx.prepare_cached(
            "INSERT INTO temp.waiting (series, boot, first_mono_ms, count, data) VALUES (?1, ?2, ?3, ?4, ?5)",
        )?;
        for Stretch { series, boot, first_mono_ms, count, data } in &waiting.stretches {
            insert.execute(params![series.0, boot.0, first_mono_ms, *count as i64, &**data])?;
        }
        drop(insert);
        tx.commit()?;
        *self = Loaded(waiting.sequence);
        Ok(())
    }

    /// Empties the table: what was in it is in the store by now.
    pub(super) fn forget(&mut self, connection: &Connection) -> rusqlite::Result<()> {
        *self = Loaded::default();
        connection.prepare_cached("DELETE FROM temp.waiting")?.execute([]).map(drop)
    }
}
