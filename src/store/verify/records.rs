//! What was set aside, spans, and the saved states of the reckoning.

use rusqlite::{Row, params};
use serde::de::IgnoredAny;

use super::{Finding, Proof, RESTORE, Stretch};
use crate::quantity::BootNo;
use crate::store::record::SeriesId;

/// What to do about a saved state that does not belong.
const UNKNOWN_CHARGE: &str = "the next start begins with an unknown charge, which the next full charge mends";

impl Proof<'_> {
    /// Names what was set aside; that it was is no fault of the store as it is.
    pub(super) fn read_set_aside(&mut self) -> rusqlite::Result<()> {
        if !self.connection.table_exists(None::<&str>, "set_aside")? {
            return Ok(());
        }
        let mut select = self.connection.prepare(
            "SELECT source, series, boot, first_mono_ms, last_mono_ms, count, cause FROM set_aside ORDER BY id",
        )?;
        let mut rows = select.query([])?;
        while let Some(row) = rows.next()? {
            let (source, series, boot): (String, i64, u32) = (row.get(0)?, row.get(1)?, row.get(2)?);
            let (first_ms, last_ms): (i64, Option<i64>) = (row.get(3)?, row.get(4)?);
            let (count, cause): (Option<i64>, String) = (row.get(5)?, row.get(6)?);
            // The last row of a tail may have reached to any moment.
            self.reach(SeriesId(series), BootNo(boot), last_ms.unwrap_or(i64::MAX));
            let known = self.series.get(&SeriesId(series));
            let name = known.map_or_else(|| format!("number {series}"), |known| known.name.clone());
            let span = self.words(BootNo(boot), first_ms, last_ms.unwrap_or(first_ms));
            let count = count.map_or_else(String::new, |count| format!("{count} samples, "));
            self.verified.set_aside.push(format!("{source} of series \"{name}\", {count}{span}: {cause}"));
        }
        Ok(())
    }

    /// From when to when the chunks of each series reach, as noted, against the chunks.
    pub(super) fn check_spans(&mut self) -> rusqlite::Result<()> {
        let mut select = self.connection.prepare(
            "WITH reach AS (SELECT series, boot, min(first_mono_ms) AS first, max(last_mono_ms) AS last,
                    sum(count) AS count FROM chunk GROUP BY series, boot)
             SELECT coalesce(r.series, s.series), coalesce(r.boot, s.boot), coalesce(r.first, s.first_mono_ms),
                coalesce(r.last, s.last_mono_ms)
             FROM reach r FULL JOIN span s ON s.series = r.series AND s.boot = r.boot
             WHERE r.first IS NOT s.first_mono_ms OR r.last IS NOT s.last_mono_ms OR r.count IS NOT s.count",
        )?;
        let mut rows = select.query([])?;
        while let Some(row) = rows.next()? {
            let place = (SeriesId(row.get(0)?), BootNo(row.get(1)?));
            let stretch = Stretch { place, first_ms: row.get(2)?, last_ms: row.get(3)? };
            self.find_at("span", stretch, "it does not say what the chunks hold", RESTORE);
        }
        Ok(())
    }

    /// Checkpoints and anchors: readable, and none of a later moment than the samples that it has seen.
    pub(super) fn check_states(&mut self) -> rusqlite::Result<()> {
        self.check_states_of("checkpoint", "SELECT bank, boot, mono_ms, state FROM checkpoint")?;
        if self.connection.table_exists(None::<&str>, "anchor")? {
            self.check_states_of("anchor", "SELECT bank, boot, mono_ms, state FROM anchor ORDER BY id")?;
        }
        Ok(())
    }

    fn check_states_of(&mut self, table: &'static str, sql: &str) -> rusqlite::Result<()> {
        let mut select = self.connection.prepare(sql)?;
        let mut rows = select.query(params![])?;
        while let Some(row) = rows.next()? {
            let (bank, boot, mono_ms, fault) = self.fault_of(row)?;
            if let Some(cause) = fault {
                let span = Some(self.words(boot, mono_ms, mono_ms));
                self.find(Finding { table, bank: Some(bank), series: None, span, cause, advice: UNKNOWN_CHARGE });
            }
        }
        Ok(())
    }

    fn fault_of(&self, row: &Row<'_>) -> rusqlite::Result<(String, BootNo, i64, Option<String>)> {
        let (bank, boot, mono_ms): (String, BootNo, i64) = (row.get(0)?, BootNo(row.get(1)?), row.get(2)?);
        // Damage may have made other bytes than text of it.
        let text = String::from_utf8(row.get_ref(3)?.as_bytes()?.to_vec());
        let readable = text.is_ok_and(|text| serde_json::from_str::<IgnoredAny>(&text).is_ok());
        // Where a store was begun anew, the state may come from a boot of which it has no samples.
        let last = self.last.get(&(bank.clone(), boot));
        let fault = if !readable {
            Some("the state is no JSON".to_owned())
        } else if last.is_some_and(|last| mono_ms > *last) {
            Some("it is of a later moment than the last sample of its boot".to_owned())
        } else {
            None
        };
        Ok((bank, boot, mono_ms, fault))
    }
}
