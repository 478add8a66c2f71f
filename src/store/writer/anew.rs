//! A broken file is renamed and a new one begun; nothing is deleted.
//!
//! The new file gets what the writer knows: the boots of this run with their latest clock fixes, the series under the same
//! numbers, and everything that waits in memory, so that whoever holds a number of either goes on with it. At a start the
//! saved states of the banks are taken out of the broken file as far as that can be read.

use std::io;
use std::path::{Path, PathBuf};

use rusqlite::config::DbConfig;
use rusqlite::{Connection, TransactionBehavior, params};

use super::found::{Anew, Found};
use super::{Options, Writer};
use crate::store::beside::{BESIDE, folder_of, with_end};
use crate::store::error::{Error, Result};
use crate::store::{common, schema};

/// Most clock fixes of a boot that are taken over.
pub(super) const MOST_FIXES: usize = 100;

impl Writer {
    /// Renames the file, found broken while in use, and begins a new one that everything in memory goes into. Call it only
    /// on [`Error::Damaged`]; what was done is among [`Writer::take_found`].
    ///
    /// # Errors
    /// [`Error::NotRenamed`], or why there cannot be a new file. Memory keeps everything then; the next call goes on.
    pub fn begin_anew(&mut self, cause: &str) -> Result<()> {
        let (broken, cause) = match self.damage.renamed.take() {
            Some(renamed) => renamed,
            None => (rename_broken(&self.path, cause)?, cause.to_owned()),
        };
        self.damage.renamed = Some((broken.clone(), cause.clone()));
        let mut connection = schema::open_writer(&self.path)?;
        connection.set_prepared_statement_cache_capacity(64);
        let err = |e| Error::sqlite(&self.path, "begin it anew", e);
        let tx = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(err)?;
        self.known.write(&tx, self.boots).map_err(err)?;
        tx.commit().map_err(err)?;
        let mark = common::mark(&connection).map_err(err)?;
        // The last one to close a log would take it into its file and remove it, by its name, which is another's now.
        let _ = self.connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
        self.connection = connection;
        (self.mark, self.slate) = (mark, None);
        self.damage.renamed = None;
        self.nothing_is_written();
        let store = self.path.clone();
        self.damage.found.push(Found::Anew(Anew { cause, store, broken, states: Vec::new() }));
        Ok(())
    }

    /// Renames a file that was found broken when it was opened, and opens a new one with the saved states of the banks.
    ///
    /// # Errors
    /// [`Error::NotRenamed`], or as [`Writer::open`].
    pub fn open_anew(path: &Path, options: Options, cause: &str) -> Result<Writer> {
        let broken = rename_broken(path, cause)?;
        let mut writer = Writer::open(path, options)?;
        let states = writer.take_states(&broken)?;
        let (cause, store) = (cause.to_owned(), path.to_owned());
        writer.damage.found.push(Found::Anew(Anew { cause, store, broken, states }));
        Ok(writer)
    }

    /// Everything in memory is still to be written.
    fn nothing_is_written(&mut self) {
        for state in self.series.values_mut() {
            state.block.written = 0;
            state.block.secured = 0;
        }
        for (_, _, closed) in &mut self.pending.closed {
            closed.in_tail = 0;
            closed.secured = 0;
            closed.not_in_tail = None;
        }
        // What was begun and noted in this run was written with the file itself.
        self.pending.clock_fixes.retain(|(boot, ..)| !self.known.has(*boot));
        // Rows of the file that is no more.
        self.pending.done_anchors.clear();
        self.pending.set_aside.clear();
        self.pending.events.forget_rows();
        self.damage.pages_told.clear();
    }

    /// Takes the saved states out of another file, which may be broken or on a card that cannot be written, with the boots
    /// that they are of; tells of which banks it could. This store is a new one.
    ///
    /// # Errors
    /// What SQLite reports of this store.
    pub fn take_states(&mut self, other: &Path) -> Result<Vec<String>> {
        // As good as none if it cannot be read: each bank then begins with an unknown charge, and says so.
        let Ok(from) = schema::open_reader(other).or_else(|_| schema::open_still(other)) else { return Ok(Vec::new()) };
        let banks = bank_names(&from).unwrap_or_default();
        let taken = banks.into_iter().filter(|bank| self.take_state(&from, bank).is_ok_and(|taken| taken)).collect();
        self.boots = self
            .connection
            .query_row("SELECT coalesce(max(no), 0) FROM boot", [], |row| row.get(0))
            .map_err(|e| Error::sqlite(&self.path, "read its boots", e))?;
        Ok(taken)
    }

    fn take_state(&mut self, from: &Connection, bank: &str) -> rusqlite::Result<bool> {
        let Some(saved) = common::load_checkpoint(from, bank)? else { return Ok(false) };
        let boot = saved.at.boot;
        let (boot_id, kind): (String, String) =
            from.query_row("SELECT boot_id, kind FROM boot WHERE no = ?1", [boot.0], |row| {
                Ok((row.get(0)?, row.get(1)?))
            })?;
        let fixes = common::latest_clock_fixes(from, boot, MOST_FIXES)?;
        let tx = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        let is_new = tx.execute(
            "INSERT INTO boot (no, boot_id, kind) VALUES (?1, ?2, ?3) ON CONFLICT DO NOTHING",
            params![boot.0, boot_id, kind],
        )? > 0;
        for fix in fixes.iter().filter(|_| is_new) {
            fix.write(&tx, boot)?;
        }
        tx.execute(
            "INSERT INTO checkpoint (bank, boot, mono_ms, version, state) VALUES (?1, ?2, ?3, ?4, ?5)",
            params![bank, boot.0, saved.at.mono.0, saved.version, saved.state],
        )?;
        tx.commit()?;
        Ok(true)
    }
}

fn bank_names(from: &Connection) -> rusqlite::Result<Vec<String>> {
    from.prepare("SELECT bank FROM checkpoint")?.query_map([], |row| row.get(0))?.collect()
}

/// Renames a store with what belongs to it; gives the new name of the file.
fn rename_broken(path: &Path, cause: &str) -> Result<PathBuf> {
    let broken = (1_u32..)
        .map(|number| with_end(path, &format!(".broken-{number}")))
        .find(|name| std::iter::once("").chain(BESIDE).all(|end| !with_end(name, end).exists()))
        .expect("a folder does not hold four thousand million names");
    // A new store must find none of them: SQLite would take an old log for its own. So the file goes last.
    let mut moved: Vec<(PathBuf, PathBuf)> = Vec::new();
    for end in BESIDE.into_iter().chain([""]) {
        let (from, to) = (with_end(path, end), with_end(&broken, end));
        match std::fs::rename(&from, &to) {
            Ok(()) => moved.push((from, to)),
            Err(error) if error.kind() == io::ErrorKind::NotFound && !end.is_empty() => {}
            Err(source) => {
                for (from, to) in moved.iter().rev() {
                    // What cannot go back is named like the rest, and stays beside it.
                    let _ = std::fs::rename(to, from);
                }
                let (path, cause) = (path.to_owned(), cause.to_owned());
                return Err(Error::NotRenamed { path, cause, source });
            }
        }
    }
    // If the card forgets the new names at a power cut, the next start finds the file broken again.
    let _ = std::fs::File::open(folder_of(path)).and_then(|folder| folder.sync_all());
    Ok(broken)
}
