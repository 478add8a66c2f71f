//! Taking in what another store holds: one that stood in while the card could not be used.

use std::path::Path;

use rusqlite::{Connection, TransactionBehavior, params};

use super::Writer;
use crate::quantity::{BootNo, Channel, Moment, UtcMs};
use crate::store::error::{Error, Result};
use crate::store::reader::Reader;
use crate::store::record::{BootKind, SeriesKind, SeriesSpec};

/// Samples between two commits.
const BATCH: u64 = 100_000;

/// What people did to the health record; what a survey finds is found here again from the samples.
const BY_HAND: &str = "
    INSERT INTO main.passage (bank, boot, mono_ms, end_boot, end_mono_ms, origin, removed, name, note)
        SELECT p.bank, m.here, p.mono_ms, e.here, p.end_mono_ms, p.origin, p.removed, p.name, p.note
        FROM away.passage p JOIN temp.boot_map m ON m.there = p.boot LEFT JOIN temp.boot_map e ON e.there = p.end_boot
        WHERE p.origin = 'hand' AND NOT EXISTS (SELECT 1 FROM main.passage h
            WHERE h.bank = p.bank AND h.boot = m.here AND h.mono_ms = p.mono_ms AND h.origin = 'hand')
        ORDER BY p.id;
    INSERT INTO main.capacity_test (bank, boot, mono_ms, state, body)
        SELECT t.bank, m.here, t.mono_ms, t.state, t.body
        FROM away.capacity_test t JOIN temp.boot_map m ON m.there = t.boot
        WHERE NOT EXISTS (SELECT 1 FROM main.capacity_test h
            WHERE h.bank = t.bank AND h.boot = m.here AND h.mono_ms = t.mono_ms)
        ORDER BY t.id;";

/// Records beside samples, each under the number that its boot has here. What is here already stays as it is, so that the
/// same store can be taken in again after a cut.
const RECORDS: &str = "
    INSERT INTO main.clock_fix (boot, mono_ms, utc_ms, trust, kind)
        SELECT m.here, c.mono_ms, c.utc_ms, c.trust, c.kind FROM away.clock_fix c JOIN temp.boot_map m ON m.there = c.boot
        WHERE NOT EXISTS (SELECT 1 FROM main.clock_fix h
            WHERE h.boot = m.here AND h.mono_ms = c.mono_ms AND h.utc_ms = c.utc_ms)
        ORDER BY c.id;
    INSERT INTO main.fix (bank, boot, mono_ms, kind, soc_before, soc_before_low, soc_before_high,
            soc_after, soc_after_low, soc_after_high, text)
        SELECT f.bank, m.here, f.mono_ms, f.kind, f.soc_before, f.soc_before_low, f.soc_before_high,
            f.soc_after, f.soc_after_low, f.soc_after_high, f.text
        FROM away.fix f JOIN temp.boot_map m ON m.there = f.boot
        WHERE NOT EXISTS (SELECT 1 FROM main.fix h
            WHERE h.bank = f.bank AND h.boot = m.here AND h.mono_ms = f.mono_ms AND h.kind = f.kind)
        ORDER BY f.id;
    INSERT INTO main.event (boot, first_mono_ms, last_mono_ms, bank, device, kind, priority, text, count)
        SELECT m.here, e.first_mono_ms, e.last_mono_ms, e.bank, e.device, e.kind, e.priority, e.text, e.count
        FROM away.event e JOIN temp.boot_map m ON m.there = e.boot
        WHERE NOT EXISTS (SELECT 1 FROM main.event h
            WHERE h.boot = m.here AND h.first_mono_ms = e.first_mono_ms AND h.kind = e.kind AND h.bank IS e.bank
                AND h.device IS e.device)
        ORDER BY e.id;
    INSERT INTO main.anchor (bank, side, boot, mono_ms, fix, version, state)
        SELECT a.bank, NULL, m.here, a.mono_ms, a.fix, a.version, a.state
        FROM away.anchor a JOIN temp.boot_map m ON m.there = a.boot
        WHERE a.side IS NULL AND NOT EXISTS (SELECT 1 FROM main.anchor h
            WHERE h.bank = a.bank AND h.side IS NULL AND h.boot = m.here AND h.mono_ms = a.mono_ms AND h.fix IS a.fix)
        ORDER BY a.id;
    INSERT INTO main.checkpoint (bank, boot, mono_ms, version, state)
        SELECT c.bank, m.here, c.mono_ms, c.version, c.state
        FROM away.checkpoint c JOIN temp.boot_map m ON m.there = c.boot
        WHERE true
        ON CONFLICT DO UPDATE SET boot = excluded.boot, mono_ms = excluded.mono_ms, version = excluded.version,
            state = excluded.state;";

impl Writer {
    /// Takes in what the store at `from` holds, which has stood in for this one: its boots are the latest, its saved states
    /// go on from those here. Gives the number of samples that were new. May be repeated after a cut.
    ///
    /// # Errors
    /// What either store reports; what was taken in until then stays.
    pub fn take_in(&mut self, from: &Path) -> Result<u64> {
        let reader = Reader::open(from)?;
        let boots = self.take_boots(&reader)?;
        let mut taken = 0;
        for info in reader.all_series()? {
            let kind =
                if info.kind == SeriesKind::Device.as_str() { SeriesKind::Device } else { SeriesKind::Reckoning };
            let channels = info.channels.iter().filter_map(|name| Channel::try_new(name).ok()).collect();
            let spec = SeriesSpec { name: info.name, kind, bank: info.bank, channels, gap_ms: info.gap_ms };
            let series = self.series(&spec)?;
            for stored in reader.samples(info.id, UtcMs(i64::MIN), UtcMs(i64::MAX))? {
                let sample = stored?.sample;
                let Some((_, boot)) = boots.iter().find(|(there, _)| *there == sample.at.boot) else { continue };
                let at = Moment { boot: *boot, ..sample.at };
                taken += u64::from(self.append_values(series, at, &sample.values)? == super::Appended::Taken);
                if taken > 0 && taken.is_multiple_of(BATCH) {
                    self.commit()?;
                }
            }
        }
        self.commit()?;
        drop(reader);
        self.take_records(from, &boots)?;
        Ok(taken)
    }

    /// The number of each boot there, and here.
    fn take_boots(&mut self, from: &Reader) -> Result<Vec<(BootNo, BootNo)>> {
        let boots = from.boots()?;
        boots
            .into_iter()
            .map(|(there, boot_id, kind)| {
                let kind = if kind == BootKind::Live.as_str() { BootKind::Live } else { BootKind::Import };
                Ok((there, self.begin_boot(&boot_id, kind)?))
            })
            .collect()
    }

    fn take_records(&mut self, from: &Path, boots: &[(BootNo, BootNo)]) -> Result<()> {
        let err = |e| Error::sqlite(&self.path, "take in another store", e);
        let name = from.to_string_lossy();
        self.connection.execute("ATTACH ?1 AS away", [&*name]).map_err(err)?;
        let taken = copy_records(&mut self.connection, boots).map_err(err);
        let parted = self.connection.execute_batch("DROP TABLE IF EXISTS temp.boot_map; DETACH away").map_err(err);
        taken.and(parted)
    }
}

fn copy_records(connection: &mut Connection, boots: &[(BootNo, BootNo)]) -> rusqlite::Result<()> {
    connection.execute_batch("CREATE TEMP TABLE boot_map (there INTEGER PRIMARY KEY, here INTEGER NOT NULL)")?;
    let tx = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    for (there, here) in boots {
        tx.execute("INSERT INTO temp.boot_map VALUES (?1, ?2)", params![there.0, here.0])?;
    }
    tx.execute_batch(RECORDS)?;
    tx.execute_batch(BY_HAND)?;
    tx.commit()
}
