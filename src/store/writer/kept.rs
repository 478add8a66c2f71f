//! The health record: what a survey found goes in with where it got to, in a transaction of its own.

use rusqlite::{Connection, Transaction, TransactionBehavior, params};
use serde::Serialize;
use serde::de::DeserializeOwned;

use super::Writer;
use super::passages::write_found;
use crate::health::Finding;
use crate::passage::Summary;
use crate::quantity::Moment;
use crate::store::error::{Error, Result};
use crate::store::kept::{SurveyBatch, TestState};
use crate::store::record::EventRecord;
use crate::store::summary::DAY_MS;

/// Why something was not done: SQLite's own trouble, or words for whoever asked.
pub(super) enum Trouble {
    Sqlite(rusqlite::Error),
    Words(String),
}

impl From<rusqlite::Error> for Trouble {
    fn from(error: rusqlite::Error) -> Trouble {
        Trouble::Sqlite(error)
    }
}

impl Writer {
    /// Keeps what came of looking at a stretch of samples, and where the next look begins. What waits is committed first,
    /// so that no result is on the card without its samples. An event is told once: the same bank and kind within a day
    /// of the boot is known already when samples are looked at again.
    ///
    /// # Errors
    /// What SQLite reports; nothing of the batch is kept then, and the stretch is to be looked at again.
    pub fn keep_survey(&mut self, batch: &SurveyBatch) -> Result<()> {
        self.commit()?;
        self.at_once("keep what was found", |tx| -> rusqlite::Result<()> {
            let SurveyBatch { bank, state, findings, passages, events, tests } = batch;
            findings.iter().try_for_each(|finding| write_finding(tx, bank, finding))?;
            write_found(tx, bank, passages)?;
            events.iter().try_for_each(|event| write_event(tx, event))?;
            for (id, state, body) in tests {
                write_test(tx, *id, *state, body)?;
            }
            tx.prepare_cached(
                "INSERT OR REPLACE INTO survey (bank, boot, mono_ms, version, state) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![bank, state.at.boot.0, state.at.mono.0, state.version, state.state])
            .map(drop)
        })
    }

    /// Forgets what was found in a bank's samples, so that all of them are looked at again. What somebody marked, named or
    /// noted stays, and so do capacity tests.
    ///
    /// # Errors
    /// What SQLite reports; nothing is forgotten then.
    pub fn forget_survey(&mut self, bank: &str) -> Result<()> {
        self.at_once("forget what was found", |tx| forget(tx, bank))
    }

    /// Keeps what a passage comes to; `settled` once that will not change any more.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn keep_summary(&mut self, id: i64, summary: &Summary, settled: bool) -> Result<()> {
        let Some(text) = json(summary) else { return Ok(()) };
        self.at_once("keep what a passage comes to", |tx| -> rusqlite::Result<()> {
            tx.prepare_cached("UPDATE passage SET summary = ?2, settled = ?3 WHERE id = ?1")?
                .execute(params![id, text, settled])
                .map(drop)
        })
    }

    /// Begins a capacity test; gives its number.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn begin_test(&mut self, bank: &str, at: Moment, body: &str) -> Result<i64> {
        self.commit()?;
        self.at_once("begin a capacity test", |tx| -> rusqlite::Result<i64> {
            tx.prepare_cached(
                "INSERT INTO capacity_test (bank, boot, mono_ms, state, body) VALUES (?1, ?2, ?3, ?4, ?5)",
            )?
            .execute(params![bank, at.boot.0, at.mono.0, TestState::Running.word(), body])?;
            Ok(tx.last_insert_rowid())
        })
    }

    /// Brings a capacity test to another state.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn change_test(&mut self, id: i64, state: TestState, body: &str) -> Result<()> {
        self.at_once("change a capacity test", |tx| write_test(tx, id, state, body))
    }

    /// One transaction, committed and synced; nothing of it is done on an error.
    pub(super) fn at_once<T, E: Into<Trouble>>(
        &mut self,
        what: &'static str,
        work: impl FnOnce(&Transaction<'_>) -> std::result::Result<T, E>,
    ) -> Result<T> {
        let path = &self.path;
        let err = |error| Error::sqlite(path, what, error);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        let done = work(&tx).map_err(|trouble| match trouble.into() {
            Trouble::Sqlite(error) => err(error),
            Trouble::Words(words) => Error::Passage(words),
        })?;
        tx.commit().map_err(err)?;
        Ok(done)
    }
}

pub(super) fn forget(tx: &Connection, bank: &str) -> rusqlite::Result<()> {
    for sql in [
        "DELETE FROM finding WHERE bank = ?1",
        "DELETE FROM passage WHERE bank = ?1 AND origin = 'found'",
        "UPDATE passage SET summary = NULL, settled = 0 WHERE bank = ?1",
        "DELETE FROM survey WHERE bank = ?1",
    ] {
        tx.prepare_cached(sql)?.execute([bank])?;
    }
    Ok(())
}

fn write_finding(tx: &Connection, bank: &str, finding: &Finding) -> rusqlite::Result<()> {
    let (span, Some(body)) = (finding.span(), json(finding)) else { return Ok(()) };
    tx.prepare_cached(
        "INSERT INTO finding (bank, kind, boot, mono_ms, end_boot, end_mono_ms, body) VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7)",
    )?
    .execute(params![
        bank,
        finding.kind(),
        span.from.boot.0,
        span.from.mono.0,
        span.to.boot.0,
        span.to.mono.0,
        body
    ])
    .map(drop)
}

fn write_event(tx: &Connection, event: &EventRecord) -> rusqlite::Result<()> {
    let EventRecord { at, bank, device, kind, priority, text } = event;
    tx.prepare_cached(
        "INSERT INTO event (boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count)
         SELECT ?1, ?2, ?2, ?3, ?4, ?5, ?6, ?7, 1
         WHERE NOT EXISTS (SELECT 1 FROM event WHERE boot = ?1 AND bank IS ?3 AND device IS ?4 AND kind = ?5
            AND last_mono_ms BETWEEN ?2 - ?8 AND ?2 + ?8)",
    )?
    .execute(params![at.boot.0, at.mono.0, bank, device, kind, priority, text, DAY_MS])
    .map(drop)
}

fn write_test(tx: &Connection, id: i64, state: TestState, body: &str) -> rusqlite::Result<()> {
    tx.prepare_cached("UPDATE capacity_test SET state = ?2, body = ?3 WHERE id = ?1")?
        .execute(params![id, state.word(), body])
        .map(drop)
}

/// As JSON that can be read back. Numbers that are not finite have no place in JSON; what holds one where a number is
/// needed is left out, and said in the log: it is a fault of the program, and better missing than unreadable.
fn json<T: Serialize + DeserializeOwned>(value: &T) -> Option<String> {
    let text = serde_json::to_string(value).ok().filter(|text| serde_json::from_str::<T>(text).is_ok());
    if text.is_none() {
        tracing::error!(kind = std::any::type_name::<T>(), "a result with a number that is not finite is left out");
    }
    text
}
