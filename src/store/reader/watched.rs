//! When a bank was watched: the stretches of boots that have samples of it.

use std::collections::BTreeMap;

use super::Reader;
use crate::quantity::{BootNo, MonoMs, MonoRange, UtcMs};
use crate::store::common;
use crate::store::error::Result;
use crate::store::record::SeriesKind;

impl Reader {
    /// The stretches between two times in which devices of a bank were read, one for each boot and step of its clock, in
    /// the order of boot and monotonic time; gaps within a boot are not told. Boots without a clock are not among them.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn watched(&self, bank: &str, from: UtcMs, to: UtcMs) -> Result<Vec<MonoRange>> {
        let _snapshot = self.snapshot()?;
        let mut boots: BTreeMap<BootNo, (MonoMs, MonoMs)> = BTreeMap::new();
        for series in self.all_series()?.iter().filter(|s| s.bank == bank && s.kind == SeriesKind::Device.as_str()) {
            let firsts = self.extents(series.id)?.into_iter().map(|extent| extent.first());
            let lasts =
                common::last_moments(&self.connection, Some(series.id)).map_err(self.err("read its last moments"))?;
            for at in firsts.chain(lasts) {
                let (first, last) = boots.entry(at.boot).or_insert((at.mono, at.mono));
                (*first, *last) = ((*first).min(at.mono), (*last).max(at.mono));
            }
        }
        let clip = |range: MonoRange| {
            let (first, last) = *boots.get(&range.boot)?;
            let clipped = MonoRange { from: range.from.max(first), to: range.to.min(last + 1), ..range };
            (clipped.from < clipped.to).then_some(clipped)
        };
        Ok(self.timeline()?.ranges(from, to).into_iter().filter_map(clip).collect())
    }
}
