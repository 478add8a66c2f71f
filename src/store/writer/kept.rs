//! The health record: what a survey found goes in with where it got to, in a transaction of its own.

use rusqlite::{Connection, Transaction, TransactionBehavior, params};

use super::Writer;
use crate::health::Finding;
use crate::passage::{Found, Summary};
use crate::quantity::Moment;
use crate::store::error::{Error, Result};
use crate::store::kept::{SurveyBatch, TestState};

impl Writer {
    /// Keeps what came of looking at a stretch of samples, and where the next look begins. What waits is committed first,
    /// so that no result is on the card without its samples.
    ///
    /// # Errors
    /// What SQLite reports; nothing of the batch is kept then, and the stretch is to be looked at again.
    pub fn keep_survey(&mut self, batch: &SurveyBatch) -> Result<()> {
        for event in &batch.events {
            self.event(event.clone())?;
        }
        self.commit()?;
        self.at_once("keep what was found", |tx| {
            let SurveyBatch { bank, state, findings, passages, tests, .. } = batch;
            findings.iter().try_for_each(|finding| write_finding(tx, bank, finding))?;
            passages.iter().try_for_each(|found| write_found(tx, bank, found))?;
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
        let text = json(summary);
        self.at_once("keep what a passage comes to", |tx| {
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
        self.at_once("begin a capacity test", |tx| {
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

    /// One transaction, committed and synced.
    pub(super) fn at_once<T>(
        &mut self,
        what: &'static str,
        work: impl FnOnce(&Transaction<'_>) -> rusqlite::Result<T>,
    ) -> Result<T> {
        let path = &self.path;
        let err = |error| Error::sqlite(path, what, error);
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        let done = work(&tx).map_err(err)?;
        tx.commit().map_err(err)?;
        Ok(done)
    }
}

pub(super) fn forget(tx: &Connection, bank: &str) -> rusqlite::Result<()> {
    for sql in [
        "DELETE FROM finding WHERE bank = ?1",
        "DELETE FROM passage WHERE bank = ?1 AND origin = 'found'",
        "UPDATE passage SET settled = 0 WHERE bank = ?1",
        "DELETE FROM survey WHERE bank = ?1",
    ] {
        tx.prepare_cached(sql)?.execute([bank])?;
    }
    Ok(())
}

fn write_finding(tx: &Connection, bank: &str, finding: &Finding) -> rusqlite::Result<()> {
    let span = finding.span();
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
        json(finding)
    ])
    .map(drop)
}

/// A passage that somebody has marked, changed or removed is left alone, and so is what overlaps it.
fn write_found(tx: &Connection, bank: &str, found: &Found) -> rusqlite::Result<()> {
    let Found { begin, end } = found;
    let known = tx
        .prepare_cached(
            "UPDATE passage SET end_boot = ?4, end_mono_ms = ?5, summary = NULL, settled = 0
             WHERE bank = ?1 AND boot = ?2 AND mono_ms = ?3 AND origin = 'found'",
        )?
        .execute(params![bank, begin.boot.0, begin.mono.0, end.map(|end| end.boot.0), end.map(|end| end.mono.0)])?;
    if known > 0 {
        return Ok(());
    }
    let last = end.unwrap_or(*begin);
    tx.prepare_cached(
        "INSERT INTO passage (bank, boot, mono_ms, end_boot, end_mono_ms, origin)
         SELECT ?1, ?2, ?3, ?4, ?5, 'found'
         WHERE NOT EXISTS (
             SELECT 1 FROM passage WHERE bank = ?1 AND origin = 'hand'
                 AND (boot, mono_ms) <= (?6, ?7)
                 AND (end_boot IS NULL OR (end_boot, end_mono_ms) >= (?2, ?3)))",
    )?
    .execute(params![
        bank,
        begin.boot.0,
        begin.mono.0,
        end.map(|end| end.boot.0),
        end.map(|end| end.mono.0),
        last.boot.0,
        last.mono.0
    ])
    .map(drop)
}

fn write_test(tx: &Connection, id: i64, state: TestState, body: &str) -> rusqlite::Result<()> {
    tx.prepare_cached("UPDATE capacity_test SET state = ?2, body = ?3 WHERE id = ?1")?
        .execute(params![id, state.word(), body])
        .map(drop)
}

/// Plain values always become JSON; one that is not finite becomes null, and then cannot be read back, so none may be.
fn json<T: serde::Serialize>(value: &T) -> String {
    serde_json::to_string(value).unwrap_or_default()
}
