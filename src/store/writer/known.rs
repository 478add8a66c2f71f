//! What a new file needs to know if this one breaks: boots, clock fixes and series of this run, under their numbers.

use std::collections::{BTreeMap, VecDeque};

use rusqlite::{Connection, params};

use super::anew::MOST_FIXES;
use super::series::layout_of;
use crate::clock::WallReading;
use crate::quantity::BootNo;
use crate::store::block::POWER;
use crate::store::common::{self, NotedClock};
use crate::store::record::{BootKind, SeriesId};

/// Boots and series that this run may write to.
#[derive(Debug, Default)]
pub(super) struct Known {
    boots: BTreeMap<BootNo, Boot>,
    series: BTreeMap<SeriesId, Series>,
    live: Option<BootNo>,
}

#[derive(Debug)]
struct Boot {
    boot_id: String,
    kind: String,
    fixes: VecDeque<NotedClock>,
}

/// A series as its row says, with its stored channels by position.
#[derive(Debug)]
pub(super) struct Series {
    pub(super) bank: String,
    pub(super) name: String,
    pub(super) kind: String,
    pub(super) gap_ms: i64,
    pub(super) channels: Vec<String>,
}

impl Known {
    /// A boot that was begun or is gone on with.
    pub(super) fn boot(&mut self, boot: BootNo, boot_id: &str, kind: BootKind, fixes: Vec<NotedClock>) {
        let (boot_id, kind_word) = (boot_id.to_owned(), kind.as_str().to_owned());
        // Begun again in the same run, it has noted more than the file knows.
        self.boots.entry(boot).or_insert(Boot { boot_id, kind: kind_word, fixes: fixes.into() });
        if kind == BootKind::Live {
            self.live = Some(boot);
        }
    }

    /// An earlier boot whose open stretches are gone on with, or closed, by this run.
    pub(super) fn take_boot(&mut self, connection: &Connection, boot: BootNo) -> rusqlite::Result<()> {
        if self.has(boot) {
            return Ok(());
        }
        let (boot_id, kind) = connection
            .prepare_cached("SELECT boot_id, kind FROM boot WHERE no = ?1")?
            .query_row([boot.0], |row| Ok((row.get(0)?, row.get(1)?)))?;
        let fixes = common::latest_clock_fixes(connection, boot, MOST_FIXES)?.into();
        self.boots.insert(boot, Boot { boot_id, kind, fixes });
        Ok(())
    }

    pub(super) fn has(&self, boot: BootNo) -> bool {
        self.boots.contains_key(&boot)
    }

    /// The boot of the computer that this run is in.
    pub(super) const fn live(&self) -> Option<BootNo> {
        self.live
    }

    pub(super) fn series(&mut self, id: SeriesId, series: Series) {
        self.series.insert(id, series);
    }

    pub(super) fn clock_fix(&mut self, boot: BootNo, reading: WallReading, kind: &str) {
        if let Some(boot) = self.boots.get_mut(&boot) {
            let rank = reading.trust.rank();
            boot.fixes.push_back(NotedClock { mono: reading.mono, utc: reading.utc, rank, kind: kind.to_owned() });
            if boot.fixes.len() > MOST_FIXES {
                boot.fixes.pop_front();
            }
        }
    }

    /// Writes all of it into an empty store, with a name for every boot up to `boots` that samples may still come for.
    pub(super) fn write(&self, tx: &Connection, boots: u32) -> rusqlite::Result<()> {
        for no in (1..=boots).map(BootNo) {
            let boot = self.boots.get(&no);
            let unknown = format!("boot {} of the file before", no.0);
            let (boot_id, kind) = boot.map_or((unknown.as_str(), "live"), |boot| (&boot.boot_id, &boot.kind));
            tx.prepare_cached("INSERT INTO boot (no, boot_id, kind) VALUES (?1, ?2, ?3)")?
                .execute(params![no.0, boot_id, kind])?;
            for fix in boot.into_iter().flat_map(|boot| &boot.fixes) {
                fix.write(tx, no)?;
            }
        }
        for (id, series) in &self.series {
            let Series { bank, name, kind, gap_ms, channels } = series;
            tx.prepare_cached("INSERT INTO series (id, bank, name, kind, gap_ms) VALUES (?1, ?2, ?3, ?4, ?5)")?
                .execute(params![id.0, bank, name, kind, gap_ms])?;
            for (position, channel) in (0_i64..).zip(channels) {
                common::add_channel(tx, *id, position, channel)?;
            }
            if layout_of(channels, *gap_ms).power_from.is_some() {
                common::add_channel(tx, *id, POWER, common::POWER_NAME)?;
            }
        }
        Ok(())
    }
}
