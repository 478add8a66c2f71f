//! The file as a whole: its pages, its references, and the slate beside it.

use super::{Finding, Proof, RESTORE, whole_file};
use crate::store::slate;
use crate::store::{codec, common};

impl Proof<'_> {
    /// SQLite's own look at every page and index.
    pub(super) fn check_pages(&mut self) -> rusqlite::Result<()> {
        let mut check = self.connection.prepare("PRAGMA integrity_check(100)")?;
        let told: Vec<String> = check.query_map([], |row| row.get(0))?.collect::<rusqlite::Result<_>>()?;
        for line in told.iter().flat_map(|text| text.lines()).filter(|line| *line != "ok") {
            self.find(whole_file(line.to_owned()));
        }
        Ok(())
    }

    /// Rows that lean on rows which are not there.
    pub(super) fn check_references(&mut self) -> rusqlite::Result<()> {
        let mut check = self.connection.prepare("PRAGMA foreign_key_check")?;
        let mut rows = check.query([])?;
        let mut missing = std::collections::BTreeMap::<(String, String), u64>::new();
        while let Some(row) = rows.next()? {
            *missing.entry((row.get(0)?, row.get(2)?)).or_default() += 1;
        }
        for ((table, parent), count) in missing {
            self.find(whole_file(format!("{count} rows of {table} lean on rows of {parent} that are not there")));
        }
        Ok(())
    }

    /// What waits on the slate for the next commit.
    pub(super) fn check_slate(&mut self) -> rusqlite::Result<()> {
        if !self.connection.table_exists(None::<&str>, "slate_mark")? {
            return Ok(());
        }
        // None at all is sound: everything is in the file then.
        let bytes = std::fs::read(slate::path_of(self.path)).unwrap_or_default();
        // A note of another commit is in the file already, or of one that came since this proof began.
        let Some(note) = slate::latest_note(&bytes) else { return Ok(()) };
        if !common::is_followed_by(self.connection, note.mark)? {
            return Ok(());
        }
        for stretch in note.stretches {
            let cause = match codec::decode(&stretch.data, |_| true) {
                Ok(columns) if columns.time_ms.len() == stretch.count => continue,
                Ok(_) => "it holds another number of samples than it says".to_owned(),
                Err(cause) => cause.to_string(),
            };
            let series = self.series.get(&stretch.series);
            let (bank, name) = series.map(|known| (known.bank.clone(), known.name.clone())).unzip();
            let span = Some(self.words(stretch.boot, stretch.first_mono_ms, stretch.first_mono_ms));
            self.find(Finding { table: "slate", bank, series: name, span, cause, advice: RESTORE });
        }
        Ok(())
    }
}
