//! What a bank lived in one boot: for whoever goes through its samples in that order.

use rusqlite::params;

use super::Reader;
use super::records::{FIX, fix_of};
use crate::quantity::{BootNo, MonoMs};
use crate::store::error::Result;
use crate::store::record::{SeriesId, StoredFix};

/// Where the committed samples of a series lie in one boot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BootSpan {
    /// The boot.
    pub boot: BootNo,
    /// First sample.
    pub first: MonoMs,
    /// Last sample.
    pub last: MonoMs,
    /// True for a trace that was stored as if it had been a boot.
    pub imported: bool,
}

impl Reader {
    /// Where the committed samples of a series lie, boot by boot in the order of their numbers.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn boot_spans(&self, id: SeriesId) -> Result<Vec<BootSpan>> {
        let _snapshot = self.snapshot()?;
        let imported = self.imported_boots()?;
        let last = self.last_moments(id)?;
        let spans = self.extents(id)?.into_iter().filter_map(|extent| {
            let last = last.iter().find(|last| last.boot == extent.boot)?.mono;
            let imported = imported.contains(&extent.boot);
            Some(BootSpan { boot: extent.boot, first: extent.first().mono, last, imported })
        });
        Ok(spans.collect())
    }

    /// The fixes of a bank in one boot from one moment (included) to another (not included), in the order in which they
    /// came.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn fixes_within(&self, bank: &str, boot: BootNo, from: MonoMs, to: MonoMs) -> Result<Vec<StoredFix>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let read = || -> rusqlite::Result<Vec<StoredFix>> {
            self.connection
                .prepare_cached(&format!(
                    "{FIX} WHERE bank = ?1 AND boot = ?2 AND mono_ms >= ?3 AND mono_ms < ?4 ORDER BY mono_ms, id"
                ))?
                .query_map(params![bank, boot.0, from.0, to.0], |row| fix_of(row, &timeline))?
                .collect()
        };
        read().map_err(self.err("read its fixes"))
    }
}
