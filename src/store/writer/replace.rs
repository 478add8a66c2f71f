//! A bank's results replaced as a whole: the new ones are built under a name of their own, and change places with the old
//! ones in one small transaction.
//!
//! Results are the bank's series of the kind `reckoning`, its fixes, anchors and checkpoint. Under the name [`draft_of`]
//! they are stored like those of any bank, in as many commits as it takes. [`Writer::replace_results`] then only gives
//! rows other names, so it is quick for any length of history; what it has replaced bears a third name until
//! [`Writer::clear_results`] has removed it, batch by batch. A power cut leaves the old results or the new ones, and
//! perhaps rows under the other two names, which nobody reads and the next replacement removes first.

use rusqlite::{Connection, Transaction, TransactionBehavior, params};

use super::Writer;
use super::kept::forget as forget_found;
use crate::quantity::Moment;
use crate::store::error::{Error, Result};
use crate::store::record::{SeriesId, SeriesKind};

/// Most rows that one batch removes, so that the write-ahead log grows by a few megabytes.
const ROWS: i64 = 20_000;
/// The same for rows that hold whole chunks.
const CHUNKS: i64 = 1_000;

/// The name that a bank's new results are stored under until they are complete. Names of configured banks have no spaces.
#[must_use]
pub fn draft_of(bank: &str) -> String {
    format!("{bank} (draft)")
}

/// The name of what was replaced, until it is removed.
#[must_use]
pub fn replaced_of(bank: &str) -> String {
    format!("{bank} (replaced)")
}

/// True for names that only an interrupted replacement leaves: what is half built or half removed is no damage.
pub(in crate::store) fn nobody_reads(bank: &str) -> bool {
    bank.ends_with(&draft_of("")) || bank.ends_with(&replaced_of(""))
}

impl Writer {
    /// Puts the results under [`draft_of`] into the place of the bank's own. Every series of that name replaces the one
    /// that is called the same; a fix is replaced if it comes at or after one of the moments `renewed`, in the same boot,
    /// unless it was set by hand. What a survey found rests on the old results: it is forgotten, so that all samples are
    /// looked at again; marks by hand stay.
    ///
    /// # Errors
    /// What SQLite reports; nothing is replaced then.
    pub fn replace_results(&mut self, bank: &str, renewed: &[Moment]) -> Result<()> {
        self.commit()?;
        let path = &self.path;
        let err = |e| Error::sqlite(path, "replace the results", e);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        replace_series(&tx, bank).map_err(err)?;
        replace_records(&tx, bank, renewed).map_err(err)?;
        forget_found(&tx, bank).map_err(err)?;
        tx.commit().map_err(err)
    }

    /// Removes a batch of what is stored under the name of a draft or of something replaced; false once nothing is left.
    ///
    /// # Errors
    /// What SQLite reports; nothing of the batch is removed then.
    pub fn clear_results(&mut self, name: &str) -> Result<bool> {
        let path = &self.path;
        let err = |e| Error::sqlite(path, "remove what was replaced", e);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        let gone = result_series(&tx, name).map_err(err)?;
        // What waits of them in memory goes with them.
        self.series.retain(|id, _| !gone.contains(id));
        self.pending.closed.retain(|(id, _, _)| !gone.contains(id));
        let mut removed = 0;
        for id in &gone {
            for (sql, most) in PARTS {
                removed += tx.prepare_cached(sql).and_then(|mut s| s.execute(params![id.0, most])).map_err(err)?;
                if removed > 0 {
                    tx.commit().map_err(err)?;
                    return Ok(true);
                }
            }
        }
        let rest = forget(&tx, name, &gone).map_err(err)?;
        tx.commit().map_err(err)?;
        Ok(rest > 0)
    }
}

fn result_series(tx: &Connection, name: &str) -> rusqlite::Result<Vec<SeriesId>> {
    tx.prepare_cached("SELECT id FROM series WHERE bank = ?1 AND kind = ?2")?
        .query_map([name, SeriesKind::Reckoning.as_str()], |row| row.get(0).map(SeriesId))?
        .collect()
}

/// What a series consists of, first what refers to the rest, and how much of it a batch removes.
const PARTS: [(&str, i64); 8] = [
    (
        "DELETE FROM summary_block WHERE (series, span_ms, boot, start_mono_ms) IN
        (SELECT series, span_ms, boot, start_mono_ms FROM summary_block WHERE series = ?1 LIMIT ?2)",
        CHUNKS,
    ),
    (
        "DELETE FROM thinned WHERE chunk IN (SELECT c.id FROM chunk c JOIN thinned t ON t.chunk = c.id
        WHERE c.series = ?1 LIMIT ?2)",
        ROWS,
    ),
    (
        "DELETE FROM minute_chunk WHERE id IN (SELECT c.id FROM chunk c JOIN minute_chunk m ON m.id = c.id
        WHERE c.series = ?1 LIMIT ?2)",
        CHUNKS,
    ),
    ("DELETE FROM chunk WHERE id IN (SELECT id FROM chunk WHERE series = ?1 LIMIT ?2)", CHUNKS),
    (
        "DELETE FROM tail WHERE (series, boot, first_mono_ms) IN
        (SELECT series, boot, first_mono_ms FROM tail WHERE series = ?1 LIMIT ?2)",
        CHUNKS,
    ),
    ("DELETE FROM span WHERE (series, boot) IN (SELECT series, boot FROM span WHERE series = ?1 LIMIT ?2)", ROWS),
    (
        "DELETE FROM hour_summary WHERE (series, channel, boot, start_mono_ms) IN
        (SELECT series, channel, boot, start_mono_ms FROM hour_summary WHERE series = ?1 LIMIT ?2)",
        ROWS,
    ),
    (
        "DELETE FROM day_summary WHERE (series, channel, boot, start_mono_ms) IN
        (SELECT series, channel, boot, start_mono_ms FROM day_summary WHERE series = ?1 LIMIT ?2)",
        ROWS,
    ),
];

/// Removes series that have become empty, and the records under the name; tells how many rows that were.
fn forget(tx: &Transaction<'_>, name: &str, empty: &[SeriesId]) -> rusqlite::Result<usize> {
    let mut removed = 0;
    for id in empty {
        for sql in [
            // A part of a draft that could not be read belongs to nothing any more.
            "DELETE FROM set_aside WHERE series = ?1",
            "DELETE FROM channel WHERE series = ?1",
            "DELETE FROM series WHERE id = ?1",
        ] {
            removed += tx.prepare_cached(sql)?.execute([id.0])?;
        }
    }
    for sql in [
        "DELETE FROM fix WHERE bank = ?1",
        "DELETE FROM anchor WHERE bank = ?1",
        "DELETE FROM checkpoint WHERE bank = ?1",
    ] {
        removed += tx.prepare_cached(sql)?.execute([name])?;
    }
    Ok(removed)
}

fn replace_series(tx: &Transaction<'_>, bank: &str) -> rusqlite::Result<()> {
    let (draft, replaced) = (draft_of(bank), replaced_of(bank));
    // What was set aside as unreadable stays with the series that people know by that name.
    tx.prepare_cached(
        "UPDATE set_aside SET series = pair.new_id
         FROM (SELECT old.id AS old_id, new.id AS new_id FROM series old JOIN series new ON new.name = old.name
               WHERE old.bank = ?1 AND old.kind = ?3 AND new.bank = ?2) AS pair
         WHERE series = pair.old_id",
    )?
    .execute([bank, &draft, SeriesKind::Reckoning.as_str()])?;
    tx.prepare_cached(
        "UPDATE series SET bank = ?3 WHERE bank = ?1 AND kind = ?4
            AND name IN (SELECT name FROM series WHERE bank = ?2)",
    )?
    .execute([bank, &draft, &replaced, SeriesKind::Reckoning.as_str()])?;
    tx.prepare_cached("UPDATE series SET bank = ?1 WHERE bank = ?2")?.execute([bank, &draft])?;
    Ok(())
}

fn replace_records(tx: &Transaction<'_>, bank: &str, renewed: &[Moment]) -> rusqlite::Result<()> {
    let mut delete =
        tx.prepare_cached("DELETE FROM fix WHERE bank = ?1 AND boot = ?2 AND mono_ms >= ?3 AND kind <> 'hand'")?;
    for at in renewed {
        delete.execute(params![bank, at.boot.0, at.mono.0])?;
    }
    let draft = draft_of(bank);
    for sql in ["DELETE FROM anchor WHERE bank = ?1", "DELETE FROM checkpoint WHERE bank = ?1"] {
        tx.prepare_cached(sql)?.execute([bank])?;
    }
    for sql in [
        "UPDATE fix SET bank = ?1 WHERE bank = ?2",
        "UPDATE anchor SET bank = ?1 WHERE bank = ?2",
        "UPDATE checkpoint SET bank = ?1 WHERE bank = ?2",
    ] {
        tx.prepare_cached(sql)?.execute([bank, &draft])?;
    }
    Ok(())
}
