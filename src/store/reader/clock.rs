//! Clock fixes, and what they vouch for.

use super::Reader;
use crate::quantity::{BootNo, ClockFix, MonoMs, UtcMs};
use crate::store::common;
use crate::store::error::Result;

impl Reader {
    /// The committed clock fixes of a boot, in the order in which they were noted.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn clock_fixes(&self, boot: BootNo) -> Result<Vec<ClockFix>> {
        let read = || -> rusqlite::Result<Vec<ClockFix>> {
            self.connection
                .prepare_cached("SELECT mono_ms, utc_ms, trust FROM clock_fix WHERE boot = ?1 ORDER BY id")?
                .query_map([boot.0], |row| {
                    Ok(ClockFix { mono: MonoMs(row.get(0)?), utc: UtcMs(row.get(1)?), rank: row.get(2)? })
                })?
                .collect()
        };
        read().map_err(self.err("read its clock fixes"))
    }

    /// The latest UTC that a committed live sample of a boot other than `boot` has, as far as it is believed.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn last_utc_before(&self, boot: BootNo) -> Result<Option<UtcMs>> {
        let _snapshot = self.snapshot()?;
        let timeline = self.timeline()?;
        let last = common::last_moments(&self.connection, None).map_err(self.err("read its last moments"))?;
        let placed = last.into_iter().filter(|at| at.boot != boot).filter_map(|at| timeline.utc(at));
        Ok(placed.filter(|placed| placed.trusted()).map(|placed| placed.utc).max())
    }
}
