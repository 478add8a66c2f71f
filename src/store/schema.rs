//! Opening the file, and bringing it to the present layout.

use std::path::Path;
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags};

use super::beside::{LOG, with_end};
use super::error::{Error, Result};
use super::writer::blocks;

/// Marks the file as ours in SQLite's header: "taff" in ASCII.
const APPLICATION_ID: i64 = 0x7461_6666;

/// One script per layout; the number of a layout is its place here, from 1. Never edited once released.
const MIGRATIONS: &[&str] = &[
    include_str!("../../migrations/0001_store.sql"),
    include_str!("../../migrations/0002_reconciled.sql"),
    include_str!("../../migrations/0003_life.sql"),
    include_str!("../../migrations/0004_record.sql"),
];

/// The layout that added the packed blocks of summaries.
const BLOCKS_SINCE: i64 = 3;

/// Files up to this size are checked in full when opened: 16 MiB is read in under half a second from a slow card
/// (40 MB/s). Larger ones rely on the checksum of each chunk, and on SQLite meeting damage where it reads.
const CHECK_UP_TO_BYTES: i64 = 16 << 20;

/// How long to wait for another program's lock. The writer is alone by design; a person with an SQLite tool is not.
const BUSY: Duration = Duration::from_secs(5);

/// What waits for a commit, beside the committed tail: a table in memory of this connection alone, and both in one view.
const WAITING: &str = "
    PRAGMA temp_store = MEMORY;
    CREATE TEMP TABLE waiting (
        series INTEGER NOT NULL,
        boot INTEGER NOT NULL,
        first_mono_ms INTEGER NOT NULL,
        count INTEGER NOT NULL,
        data BLOB NOT NULL,
        PRIMARY KEY (series, boot, first_mono_ms)
    ) STRICT, WITHOUT ROWID;
    CREATE TEMP VIEW every_tail AS
        SELECT series, boot, first_mono_ms, count, data FROM main.tail
        UNION ALL
        SELECT series, boot, first_mono_ms, count, data FROM temp.waiting;";

pub(super) fn open_writer(path: &Path) -> Result<Connection> {
    refuse_empty_beside_a_log(path)?;
    let connection = Connection::open(path).map_err(|e| Error::sqlite(path, "open it", e))?;
    let err = |e| Error::sqlite(path, "set it up", e);
    connection.busy_timeout(BUSY).map_err(err)?;
    // Refused before anything is written to it.
    let layout = known_layout(&connection, path)?;
    connection
        .execute_batch(
            "PRAGMA auto_vacuum = INCREMENTAL;
             PRAGMA synchronous = FULL;
             PRAGMA foreign_keys = ON;",
        )
        .map_err(err)?;
    begin_log(&connection).map_err(err)?;
    check(&connection, path)?;
    migrate(&connection, layout).map_err(|e| Error::sqlite(path, "bring it to the present layout", e))?;
    connection.execute_batch(WAITING).map_err(err)?;
    Ok(connection)
}

pub(super) fn open_reader(path: &Path) -> Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    refuse_empty_beside_a_log(path)?;
    let connection = Connection::open_with_flags(path, flags).map_err(|e| Error::sqlite(path, "open it", e))?;
    set_up_reader(connection, path)
}

/// A file that nobody writes, on a card on which no file can be made: what only its log holds is not seen.
pub(super) fn open_still(path: &Path) -> Result<Connection> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX | OpenFlags::SQLITE_OPEN_URI;
    // What has a meaning in the name of a resource (RFC 3986) is written by its number.
    let name = path.to_string_lossy().replace('%', "%25").replace('?', "%3f").replace('#', "%23");
    let connection = Connection::open_with_flags(format!("file:{name}?immutable=1"), flags)
        .map_err(|e| Error::sqlite(path, "open it", e))?;
    set_up_reader(connection, path)
}

fn set_up_reader(connection: Connection, path: &Path) -> Result<Connection> {
    connection.busy_timeout(BUSY).map_err(|e| Error::sqlite(path, "set it up", e))?;
    if known_layout(&connection, path)? == 0 {
        return Err(Error::NotOurs { path: path.to_owned() });
    }
    connection.execute_batch(WAITING).map_err(|e| Error::sqlite(path, "set it up", e))?;
    connection.set_prepared_statement_cache_capacity(64);
    // A file may be renamed under a reader; it must not take another's log into it, or remove it, when it ends.
    connection
        .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
        .map_err(|e| Error::sqlite(path, "set it up", e))?;
    Ok(connection)
}

/// A store that has lost its content, but not its log, is no new one: SQLite would throw the log away.
fn refuse_empty_beside_a_log(path: &Path) -> Result<()> {
    let length = |path: &Path| std::fs::metadata(path).map_or(0, |file| file.len());
    if path.exists() && length(path) == 0 && length(&with_end(path, LOG)) > 0 {
        let cause = "it is empty, and the log beside it is not".to_owned();
        return Err(Error::Damaged { path: path.to_owned(), cause });
    }
    Ok(())
}

/// The layout of the file, 0 for an empty one.
fn known_layout(connection: &Connection, path: &Path) -> Result<i64> {
    let number = |sql| {
        connection.query_row(sql, [], |row| row.get::<_, i64>(0)).map_err(|e| Error::sqlite(path, "read its header", e))
    };
    let found = number("PRAGMA user_version")?;
    let id = number("PRAGMA application_id")?;
    let tables = number("SELECT count(*) FROM sqlite_schema")?;
    let known = MIGRATIONS.len() as i64;
    match (id, tables) {
        (APPLICATION_ID, _) if found > known => Err(Error::TooNew { path: path.to_owned(), found, known }),
        (APPLICATION_ID, _) => Ok(found),
        (0, 0) => Ok(0),
        _ => Err(Error::NotOurs { path: path.to_owned() }),
    }
}

fn check(connection: &Connection, path: &Path) -> Result<()> {
    let err = |e| Error::sqlite(path, "check it", e);
    if size_bytes(connection).map_err(err)? > CHECK_UP_TO_BYTES {
        return Ok(());
    }
    let found: String = connection.query_row("PRAGMA quick_check(1)", [], |row| row.get(0)).map_err(err)?;
    if found == "ok" { Ok(()) } else { Err(Error::Damaged { path: path.to_owned(), cause: found }) }
}

/// Size of the file as the connection sees it, what is still in the log included.
pub(super) fn size_bytes(connection: &Connection) -> rusqlite::Result<i64> {
    connection.query_row("SELECT page_count * page_size FROM pragma_page_count, pragma_page_size", [], |row| row.get(0))
}

/// Has the file written through a log, and takes what an earlier run left in the log into the file.
///
/// Such a log is not gone on with: where a sync of it failed, the kernel shows what the card never got, and after a power
/// cut it would end there, whatever was added and synced behind.
fn begin_log(connection: &Connection) -> rusqlite::Result<()> {
    run_pragma(connection, "PRAGMA journal_mode = WAL")?;
    let mode: String = connection.query_row("PRAGMA journal_mode", [], |row| row.get(0))?;
    if mode != "wal" {
        // SQLite says no more than this, and would go on without; a power cut could then undo a commit.
        let refused = rusqlite::ffi::Error::new(rusqlite::ffi::SQLITE_CANTOPEN);
        let cause = "there can be no log beside it, or it could not be begun".to_owned();
        return Err(rusqlite::Error::SqliteFailure(refused, Some(cause)));
    }
    match run_pragma(connection, "PRAGMA wal_checkpoint(TRUNCATE)") {
        // A log on a card that is full waits for room; what is in it is read from there.
        Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::DiskFull) => Ok(()),
        taken => taken,
    }
}

/// To its end: it answers first, and is committed, or fails, after that.
fn run_pragma(connection: &Connection, pragma: &str) -> rusqlite::Result<()> {
    let mut statement = connection.prepare(pragma)?;
    let mut rows = statement.query([])?;
    while rows.next()?.is_some() {}
    Ok(())
}

/// Each script and its number go in together or not at all.
fn migrate(connection: &Connection, layout: i64) -> rusqlite::Result<()> {
    for (number, script) in (1_i64..).zip(MIGRATIONS) {
        if number > layout {
            let tx = connection.unchecked_transaction()?;
            tx.execute_batch(script)?;
            if number == BLOCKS_SINCE {
                blocks::pack_all(&tx)?;
            }
            tx.pragma_update(None, "user_version", number)?;
            tx.pragma_update(None, "application_id", APPLICATION_ID)?;
            tx.commit()?;
        }
    }
    Ok(())
}
