//! The health record: what is kept as JSON can be read, and passages lie where there are samples.

use super::{Finding, Proof};
use crate::passage::Summary;
use crate::quantity::BootNo;

/// What to do about what a survey makes.
const LOOK_AGAIN: &str = "`taffrail survey --anew` makes it anew from the samples";
/// What to do about what a hand has marked.
const MARK_AGAIN: &str = "remove the passage and mark it again";

/// A passage ends with a minute, which may end after its last sample, ms.
const TO_THE_MINUTE_MS: i64 = 60_000;

impl Proof<'_> {
    /// Findings, summaries of passages, states and tests.
    pub(super) fn check_record(&mut self) -> rusqlite::Result<()> {
        if !self.connection.table_exists(None::<&str>, "finding")? {
            return Ok(());
        }
        self.check_json::<crate::health::Finding>(
            "finding",
            "SELECT bank, boot, mono_ms, body FROM finding ORDER BY id",
        )?;
        self.check_json::<Summary>(
            "passage",
            "SELECT bank, boot, mono_ms, summary FROM passage WHERE summary IS NOT NULL ORDER BY id",
        )?;
        self.check_json::<serde::de::IgnoredAny>("survey", "SELECT bank, boot, mono_ms, state FROM survey")?;
        self.check_json::<serde::de::IgnoredAny>(
            "capacity_test",
            "SELECT bank, boot, mono_ms, body FROM capacity_test ORDER BY id",
        )?;
        self.check_passages()
    }

    fn check_json<T: serde::de::DeserializeOwned>(&mut self, table: &'static str, sql: &str) -> rusqlite::Result<()> {
        let mut select = self.connection.prepare(sql)?;
        let mut rows = select.query([])?;
        while let Some(row) = rows.next()? {
            let text = String::from_utf8(row.get_ref(3)?.as_bytes()?.to_vec());
            if text.is_ok_and(|text| serde_json::from_str::<T>(&text).is_ok()) {
                continue;
            }
            let (bank, boot, mono_ms) = (row.get(0)?, BootNo(row.get(1)?), row.get(2)?);
            let span = Some(self.words(boot, mono_ms, mono_ms));
            let cause = "it cannot be read as what it should be".to_owned();
            self.find(Finding { table, bank: Some(bank), series: None, span, cause, advice: LOOK_AGAIN });
        }
        Ok(())
    }

    fn check_passages(&mut self) -> rusqlite::Result<()> {
        let mut select = self.connection.prepare(
            "SELECT bank, boot, mono_ms, end_boot, end_mono_ms, origin, (end_boot IS NULL) <> (end_mono_ms IS NULL)
             FROM passage ORDER BY id",
        )?;
        let mut rows = select.query([])?;
        while let Some(row) = rows.next()? {
            let (bank, boot, mono_ms): (String, BootNo, i64) = (row.get(0)?, BootNo(row.get(1)?), row.get(2)?);
            let end: Option<(u32, i64)> = row.get::<_, Option<u32>>(3)?.zip(row.get(4)?);
            let last = |boot| self.last.get(&(bank.clone(), boot)).copied();
            let beyond = |boot, ms: i64| last(boot).is_none_or(|last| ms > last.saturating_add(TO_THE_MINUTE_MS));
            let cause = if row.get(6)? {
                "its end has a boot without a moment, or a moment without a boot"
            } else if beyond(boot, mono_ms) || end.is_some_and(|(boot, ms)| beyond(BootNo(boot), ms)) {
                "it lies where the bank has no samples"
            } else if end.is_some_and(|(end_boot, ms)| end_boot == boot.0 && ms < mono_ms) {
                "it ends before it begins"
            } else {
                continue;
            };
            let by_hand = row.get::<_, String>(5)? == "hand";
            let (span, cause) = (Some(self.words(boot, mono_ms, mono_ms)), cause.to_owned());
            let advice = if by_hand { MARK_AGAIN } else { LOOK_AGAIN };
            self.find(Finding { table: "passage", bank: Some(bank), series: None, span, cause, advice });
        }
        Ok(())
    }
}
