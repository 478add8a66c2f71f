//! Is a store, or a copy of it, sound: SQLite's own check of its pages, and every packed piece unpacked.

use std::fmt;
use std::path::Path;

use rusqlite::{Connection, OpenFlags, Row};

use super::{CopyProgress, CopyStep};
use crate::store::codec;
use crate::store::error::{Error, Result};

/// What was read of a file.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Soundness {
    /// Samples that unpack.
    pub samples: u64,
    /// Pieces that unpack: chunks, minutes of chunks, rows of the open tail, packed summaries.
    pub pieces: u64,
    /// Those that do not.
    pub broken: Vec<Broken>,
}

/// A piece that does not unpack, or not to as many samples as it says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Broken {
    /// Its table.
    pub table: &'static str,
    /// Series that it belongs to.
    pub series: i64,
    /// Boot that it belongs to.
    pub boot: i64,
    /// Where it begins, monotonic ms.
    pub first_mono_ms: i64,
    /// What is wrong with it.
    pub cause: String,
}

impl fmt::Display for Broken {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Broken { table, series, boot, first_mono_ms, cause } = self;
        write!(f, "{table} of series {series}, boot {boot}, from {first_mono_ms} ms: {cause}")
    }
}

/// Outcome of a check.
pub(super) enum Checked {
    /// Every page is sound.
    Sound(Soundness),
    /// SQLite finds its pages damaged; its own words.
    Damaged(String),
}

/// Checks a file that nobody else works on.
pub(super) fn check(path: &Path, progress: CopyProgress<'_>) -> Result<Checked> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).map_err(|e| Error::sqlite(path, "open it", e))?;
    check_on(&connection, path, progress)
}

/// Checks what a connection sees of the file at `path`.
pub(super) fn check_on(connection: &Connection, path: &Path, progress: CopyProgress<'_>) -> Result<Checked> {
    let damaged = |error: Error| match error {
        Error::Damaged { cause, .. } => Ok(Checked::Damaged(cause)),
        other => Err(other),
    };
    let found = connection.query_row("PRAGMA integrity_check(1)", [], |row| row.get::<_, String>(0));
    match found.map_err(|e| Error::sqlite(path, "check it", e)) {
        Ok(found) if found == "ok" => {}
        Ok(found) => return Ok(Checked::Damaged(found)),
        Err(error) => return damaged(error),
    }
    match pieces(connection, progress).map_err(|e| Error::sqlite(path, "read its samples", e)) {
        Ok(soundness) => Ok(Checked::Sound(soundness)),
        Err(error) => damaged(error),
    }
}

/// The layout that brought packed summaries.
const LAYOUT_OF_BLOCKS: i64 = 3;

/// Every table of packed pieces: series, boot, beginning, bytes, and the number of samples that they must give.
const PIECES: [(&str, &str); 4] = [
    ("chunk", "SELECT series, boot, first_mono_ms, data, count FROM chunk ORDER BY id"),
    (
        "minute_chunk",
        "SELECT c.series, c.boot, c.first_mono_ms, m.data, NULL FROM minute_chunk m JOIN chunk c USING (id) ORDER BY id",
    ),
    ("tail", "SELECT series, boot, first_mono_ms, data, count FROM tail"),
    ("summary_block", "SELECT series, boot, start_mono_ms, data, NULL FROM summary_block"),
];

fn pieces(connection: &Connection, progress: CopyProgress<'_>) -> rusqlite::Result<Soundness> {
    let layout: i64 = connection.query_row("PRAGMA user_version", [], |row| row.get(0))?;
    let known = PIECES.iter().filter(|(table, _)| *table != "summary_block" || layout >= LAYOUT_OF_BLOCKS);
    let mut total = 0_i64;
    for (table, _) in known.clone() {
        total += connection.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get::<_, i64>(0))?;
    }
    let mut soundness = Soundness::default();
    for &(table, sql) in known {
        let mut select = connection.prepare(sql)?;
        let mut rows = select.query([])?;
        while let Some(row) = rows.next()? {
            match unpack(row)? {
                Ok(samples) => {
                    soundness.pieces += 1;
                    soundness.samples += samples;
                }
                Err(cause) => soundness.broken.push(Broken {
                    table,
                    series: row.get(0)?,
                    boot: row.get(1)?,
                    first_mono_ms: row.get(2)?,
                    cause,
                }),
            }
            progress(CopyStep::Checking, soundness.pieces + soundness.broken.len() as u64, total.unsigned_abs());
        }
    }
    Ok(soundness)
}

/// Samples in a piece (none in summaries, which only say again what chunks say), or what is wrong with it.
fn unpack(row: &Row<'_>) -> rusqlite::Result<std::result::Result<u64, String>> {
    let columns = match codec::decode(row.get_ref(3)?.as_blob()?, |_| true) {
        Ok(columns) => columns,
        Err(error) => return Ok(Err(error.to_string())),
    };
    let found = columns.time_ms.len() as u64;
    let Some(count) = row.get::<_, Option<i64>>(4)? else { return Ok(Ok(0)) };
    if u64::try_from(count) != Ok(found) {
        return Ok(Err(format!("it holds {found} samples instead of {count}")));
    }
    Ok(Ok(found))
}
