//! The health record.

use rusqlite::{OptionalExtension, Row};

use super::Reader;
use crate::quantity::{BootNo, Moment, MonoMs, Timeline, UtcMs};
use crate::store::common::moment;
use crate::store::error::{Error, Result};
use crate::store::kept::{Origin, StoredFinding, StoredPassage, StoredTest, SurveyState, TestState};

const PASSAGE: &str =
    "SELECT id, bank, boot, mono_ms, end_boot, end_mono_ms, origin, name, note, summary, settled FROM passage";
const TEST: &str = "SELECT id, bank, boot, mono_ms, state, body FROM capacity_test";

impl Reader {
    /// What was found of one kind (see [`crate::health::Finding::kind`]) whose last moment lies between two times, in the order in which
    /// it was found. One whose boot cannot be placed in time is left out.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn findings(&self, bank: &str, kind: &str, from: UtcMs, to: UtcMs) -> Result<Vec<StoredFinding>> {
        if !self.has_record()? {
            return Ok(Vec::new());
        }
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredFinding>> {
            let mut select = self.connection.prepare_cached(
                "SELECT id, boot, mono_ms, end_boot, end_mono_ms, body FROM finding WHERE bank = ?1 AND kind = ?2
                 ORDER BY id",
            )?;
            let mut rows = select.query([bank, kind])?;
            let mut found = Vec::new();
            while let Some(row) = rows.next()? {
                let to_utc = utc(&timeline, moment(row.get(3)?, row.get(4)?));
                if to_utc.is_none_or(|utc| utc < from || utc >= to) {
                    continue;
                }
                found.push(StoredFinding {
                    id: row.get(0)?,
                    finding: of_json(row, 5)?,
                    from_utc: utc(&timeline, moment(row.get(1)?, row.get(2)?)),
                    to_utc,
                });
            }
            Ok(found)
        };
        read().map_err(self.err("read what was found"))
    }

    /// How many findings lie in boots that cannot be placed in time, so that no list has them.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn unplaced_findings(&self, bank: &str) -> Result<i64> {
        if !self.has_record()? {
            return Ok(0);
        }
        self.connection
            .prepare_cached(
                "SELECT count(*) FROM finding WHERE bank = ?1 AND end_boot NOT IN (SELECT boot FROM clock_fix)",
            )
            .and_then(|mut select| select.query_row([bank], |row| row.get(0)))
            .map_err(self.err("count what was found"))
    }

    /// The passages of a bank that were not removed, the earliest first; those that cannot be placed in time come first.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn passages(&self, bank: &str) -> Result<Vec<StoredPassage>> {
        if !self.has_record()? {
            return Ok(Vec::new());
        }
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredPassage>> {
            self.connection
                .prepare_cached(&format!("{PASSAGE} WHERE bank = ?1 AND removed = 0"))?
                .query_map([bank], |row| passage_of(row, &timeline))?
                .collect()
        };
        let mut passages = read().map_err(self.err("read its passages"))?;
        passages.sort_by_key(|passage| (passage.begin_utc, passage.begin));
        Ok(passages)
    }

    /// One passage by its number; `None` if there is none, or it was removed.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn passage(&self, id: i64) -> Result<Option<StoredPassage>> {
        if !self.has_record()? {
            return Ok(None);
        }
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        self.connection
            .prepare_cached(&format!("{PASSAGE} WHERE id = ?1 AND removed = 0"))
            .and_then(|mut select| select.query_row([id], |row| passage_of(row, &timeline)).optional())
            .map_err(self.err("read a passage"))
    }

    /// Capacity tests of a bank, the latest first.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn tests(&self, bank: &str) -> Result<Vec<StoredTest>> {
        if !self.has_record()? {
            return Ok(Vec::new());
        }
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredTest>> {
            self.connection
                .prepare_cached(&format!("{TEST} WHERE bank = ?1 ORDER BY id DESC"))?
                .query_map([bank], |row| test_of(row, &timeline))?
                .collect()
        };
        read().map_err(self.err("read its capacity tests"))
    }

    /// How far a bank's samples have been looked at; `None` if not at all.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn survey(&self, bank: &str) -> Result<Option<SurveyState>> {
        if !self.has_record()? {
            return Ok(None);
        }
        let _snapshot = self.snapshot()?;
        self.connection
            .prepare_cached("SELECT boot, mono_ms, version, state FROM survey WHERE bank = ?1")
            .and_then(|mut select| {
                let state = |row: &Row<'_>| {
                    let at = moment(row.get(0)?, row.get(1)?);
                    Ok(SurveyState { at, version: row.get(2)?, state: row.get(3)? })
                };
                select.query_row([bank], state).optional()
            })
            .map_err(self.err("read how far it was looked at"))
    }

    /// The moment that the bank lived at a time, by the clock fixes known now: in the boot that had samples of the bank
    /// then, of several the latest one; `None` if none had.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn moment_at(&self, bank: &str, time: UtcMs) -> Result<Option<Moment>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Option<BootNo>> {
            let mut select = self.connection.prepare_cached(
                "SELECT boot, min(first_ms), max(last_ms) FROM (
                     SELECT boot, first_mono_ms AS first_ms, last_mono_ms AS last_ms, series FROM span
                     UNION ALL SELECT boot, first_mono_ms, first_mono_ms, series FROM every_tail)
                 WHERE series IN (SELECT id FROM series WHERE bank = ?1 AND kind = 'device')
                 GROUP BY boot ORDER BY boot DESC",
            )?;
            let mut rows = select.query([bank])?;
            while let Some(row) = rows.next()? {
                let boot = BootNo(row.get(0)?);
                let reach = MonoMs(row.get(1)?)..=MonoMs(row.get(2)?);
                let at = timeline.ranges(time, UtcMs(time.0.saturating_add(1)));
                if at.iter().any(|range| range.boot == boot && reach.contains(&range.from)) {
                    return Ok(Some(boot));
                }
            }
            Ok(None)
        };
        let boot = read().map_err(self.err("find the boot of a time"))?;
        let ranges = timeline.ranges(time, UtcMs(time.0.saturating_add(1)));
        let range = boot.and_then(|boot| ranges.iter().find(|range| range.boot == boot));
        Ok(range.map(|range| Moment { boot: range.boot, mono: range.from }))
    }

    /// False in a file of an early layout that nobody has opened for writing since.
    fn has_record(&self) -> Result<bool> {
        self.connection
            .table_exists(None::<&str>, "finding")
            .map_err(|error| Error::sqlite(&self.path, "look at its tables", error))
    }
}

fn utc(timeline: &Timeline, at: Moment) -> Option<UtcMs> {
    timeline.utc(at).map(|placed| placed.utc)
}

fn of_json<T: serde::de::DeserializeOwned>(row: &Row<'_>, column: usize) -> rusqlite::Result<T> {
    let text = row.get_ref(column)?.as_str()?;
    serde_json::from_str(text).map_err(|cause| {
        rusqlite::Error::FromSqlConversionFailure(column, rusqlite::types::Type::Text, Box::new(cause))
    })
}

fn passage_of(row: &Row<'_>, timeline: &Timeline) -> rusqlite::Result<StoredPassage> {
    let begin = moment(row.get(2)?, row.get(3)?);
    let end = match (row.get::<_, Option<u32>>(4)?, row.get::<_, Option<i64>>(5)?) {
        (Some(boot), Some(mono_ms)) => Some(moment(boot, mono_ms)),
        _ => None,
    };
    let origin: String = row.get(6)?;
    let summary = row.get_ref(9)?.as_str_or_null()?.is_some().then(|| of_json(row, 9)).transpose()?;
    Ok(StoredPassage {
        id: row.get(0)?,
        bank: row.get(1)?,
        begin,
        end,
        begin_utc: utc(timeline, begin),
        end_utc: end.and_then(|end| utc(timeline, end)),
        origin: if origin == Origin::Hand.word() { Origin::Hand } else { Origin::Found },
        name: row.get(7)?,
        note: row.get(8)?,
        summary,
        settled: row.get(10)?,
    })
}

fn test_of(row: &Row<'_>, timeline: &Timeline) -> rusqlite::Result<StoredTest> {
    let at = moment(row.get(2)?, row.get(3)?);
    let state: String = row.get(4)?;
    Ok(StoredTest {
        id: row.get(0)?,
        bank: row.get(1)?,
        at,
        utc: utc(timeline, at),
        state: TestState::of_word(&state).ok_or(rusqlite::Error::InvalidQuery)?,
        body: row.get(5)?,
    })
}
