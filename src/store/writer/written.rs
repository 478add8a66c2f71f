//! Counting what the card had to take.

use std::collections::BTreeMap;

use rusqlite::{Connection, params};

use super::Writer;
use crate::quantity::{BootNo, MonoMs};
use crate::store::error::Result;
use crate::store::summary::{HOUR_MS, start_of};

/// Bytes by boot and start of the hour.
pub(super) type Written = BTreeMap<(BootNo, i64), u64>;

impl Writer {
    /// Adds to what was handed to the card in the hour of `mono`. Goes with the next commit and brings none about.
    ///
    /// # Errors
    /// [`crate::store::Error::UnknownBoot`].
    pub fn count_written(&mut self, boot: BootNo, mono: MonoMs, bytes: u64) -> Result<()> {
        self.check_boot(boot)?;
        let sum = self.pending.written.entry((boot, start_of(mono.0, HOUR_MS))).or_default();
        *sum = sum.saturating_add(bytes);
        Ok(())
    }

    /// The boot of the computer that was begun last.
    pub(in crate::store) const fn live(&self) -> Option<BootNo> {
        self.live
    }
}

pub(super) fn write(tx: &Connection, written: &Written) -> rusqlite::Result<()> {
    for ((boot, start_ms), bytes) in written {
        tx.prepare_cached(
            "INSERT INTO written (boot, start_mono_ms, bytes) VALUES (?1, ?2, ?3)
             ON CONFLICT DO UPDATE SET bytes = bytes + excluded.bytes",
        )?
        .execute(params![boot.0, start_ms, i64::try_from(*bytes).unwrap_or(i64::MAX)])?;
    }
    Ok(())
}

/// Bytes that this process has had the storage take since it began, by the kernel's account (`write_bytes` in proc(5)):
/// without what the file system writes of its own accord, its journal above all. `None` where the kernel keeps no account.
pub(in crate::store) fn bytes_of_process() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/io").ok()?;
    text.lines().find_map(|line| line.strip_prefix("write_bytes:")?.trim().parse().ok())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::{BootKind, Options};

    #[test]
    fn bytes_add_up_by_the_hour_and_bring_no_commit_about() {
        let dir = tempfile::tempdir().expect("a scratch directory");
        let mut writer = Writer::open(&dir.path().join("marigold.sqlite"), Options::default()).expect("opens");
        assert!(writer.count_written(BootNo(1), MonoMs(0), 5).is_err(), "no boot was begun");
        let boot = writer.begin_boot("one", BootKind::Live).expect("noted");
        writer.commit().expect("room");
        for (mono, bytes) in [(0, 5), (HOUR_MS - 1, 7), (HOUR_MS, 11)] {
            writer.count_written(boot, MonoMs(mono), bytes).expect("known boot");
        }
        let rows = |writer: &Writer| -> Vec<(i64, i64)> {
            let mut select = writer
                .connection
                .prepare("SELECT start_mono_ms, bytes FROM written ORDER BY start_mono_ms")
                .expect("a table");
            let rows = select.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).expect("rows");
            rows.collect::<rusqlite::Result<_>>().expect("rows")
        };
        let mark = writer.mark();
        writer.commit().expect("room");
        assert_eq!((writer.mark(), rows(&writer)), (mark, Vec::new()), "nothing else waits");
        for _ in 0..2 {
            let reading = crate::clock::WallReading {
                mono: MonoMs(0),
                utc: crate::quantity::UtcMs(0),
                trust: crate::clock::Trust::Untrusted,
            };
            writer.clock_fix(boot, reading, "first").expect("known boot");
            writer.commit().expect("room");
            assert_eq!(rows(&writer), [(0, 12), (HOUR_MS, 11)], "each byte counts once");
        }
        writer.count_written(boot, MonoMs(HOUR_MS + 1), 100).expect("known boot");
        writer.close().expect("room");
        let writer = Writer::open(&dir.path().join("marigold.sqlite"), Options::default()).expect("opens");
        assert_eq!(rows(&writer)[0], (0, 12));
    }
}
