//! Taking up where an earlier run, or an earlier boot, left off.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension, params};

use super::pending::Pending;
use super::series::{SeriesState, layout_of};
use super::set_aside::broken_tail;
use super::{Writer, known};
use crate::quantity::BootNo;
use crate::store::block::{Block, Layout, POWER, slot};
use crate::store::codec::{self, Columns};
use crate::store::common;
use crate::store::error::{Error, Result};
use crate::store::record::SeriesId;
use crate::store::slate::{self, Stretch};
use crate::store::summary::{Carry, power_of};

impl Writer {
    /// Loads the rows of the tail as open blocks. Of one series only one boot can have any: a change of boot closes
    /// the block of the earlier one in the commit that first writes a row of the later.
    pub(super) fn take_up_tails(&mut self) -> Result<()> {
        let path = self.path.clone();
        let err = |e| Error::sqlite(&path, "read the open tail", e);
        let rows: Vec<(i64, u32, i64, Vec<u8>)> = {
            let mut select = self
                .connection
                .prepare("SELECT series, boot, first_mono_ms, data FROM tail ORDER BY series, boot, first_mono_ms")
                .map_err(err)?;
            let found =
                select.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))).map_err(err)?;
            found.collect::<rusqlite::Result<_>>().map_err(err)?
        };
        for (series, boot, first_mono_ms, data) in rows {
            let id = SeriesId(series);
            let columns = match codec::decode(&data, |_| true) {
                Ok(columns) => columns,
                Err(cause) => {
                    self.set_tail_aside(broken_tail(id, BootNo(boot), first_mono_ms, cause.to_string()))?;
                    continue;
                }
            };
            if !self.series.contains_key(&id) {
                let state = self.load_series(id)?;
                self.series.insert(id, state);
            }
            let state = self.series.get_mut(&id).expect("inserted just above");
            if state.boot != Some(BootNo(boot)) {
                self.known.take_boot(&self.connection, BootNo(boot)).map_err(err)?;
                state.close_into(id, &mut self.pending);
                state.begin(&self.connection, &path, id, BootNo(boot), &self.pending)?;
            }
            state.block.extend(&columns);
            state.block.written = state.block.len();
            state.block.secured = state.block.len();
            state.last_ms = state.block.columns.time_ms.last().copied();
        }
        Ok(())
    }

    /// Takes the samples of the slate that follow the last commit into the store, so that nothing hangs on the slate any
    /// more. On a card that takes no commit they wait in memory and stay on the slate.
    pub(super) fn take_up_slate(&mut self) -> Result<()> {
        // A slate that cannot be read is as good as none; the next one to be written says so.
        let file = std::fs::read(slate::path_of(&self.path)).unwrap_or_default();
        let Some(note) = slate::latest_note(&file) else { return Ok(()) };
        let follows = common::is_followed_by(&self.connection, note.mark)
            .map_err(|e| Error::sqlite(&self.path, "read the mark of its last commit", e))?;
        if !follows {
            return Ok(());
        }
        for stretch in &note.stretches {
            self.take_up_stretch(stretch)?;
        }
        match self.commit() {
            Err(error) if !error.is_transient() => Err(error),
            _ => Ok(()),
        }
    }

    fn take_up_stretch(&mut self, stretch: &Stretch) -> Result<()> {
        let (id, boot) = (stretch.series, stretch.boot);
        let Ok(columns) = codec::decode(&stretch.data, |_| true) else { return Ok(()) };
        if self.check_boot(boot).is_err() {
            return Ok(());
        }
        if !self.series.contains_key(&id) {
            match self.load_series(id) {
                Ok(state) => self.series.insert(id, state),
                Err(Error::Sqlite { source: rusqlite::Error::QueryReturnedNoRows, .. }) => return Ok(()),
                Err(error) => return Err(error),
            };
        }
        let state = self.series.get_mut(&id).expect("inserted just above");
        if state.boot != Some(boot) {
            let folded = last_chunk(&self.connection, id, boot)
                .map_err(|e| Error::sqlite(&self.path, "read the last chunk", e))?;
            // Of an earlier boot, and in the store already: the open block of the present one stays open.
            if folded.map(|(last_ms, _)| last_ms) >= columns.time_ms.last().copied() {
                return Ok(());
            }
            state.close_into(id, &mut self.pending);
            state.begin(&self.connection, &self.path, id, boot, &self.pending)?;
        }
        for (row, &time_ms) in columns.time_ms.iter().enumerate() {
            if state.last_ms.is_some_and(|last| time_ms <= last) {
                continue;
            }
            if state.block.closes_before(time_ms) {
                state.close_into(id, &mut self.pending);
            }
            state.block.push_row(&columns, row);
            state.last_ms = Some(time_ms);
        }
        Ok(())
    }

    /// A series that has a tail and may not be asked for in this run. Without an order it takes no samples.
    fn load_series(&mut self, id: SeriesId) -> Result<SeriesState> {
        let err = |e| Error::sqlite(&self.path, "read the series", e);
        let (bank, name, kind, gap_ms): (String, String, String, i64) = self
            .connection
            .query_row("SELECT bank, name, kind, gap_ms FROM series WHERE id = ?1", [id.0], |row| {
                Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?))
            })
            .map_err(err)?;
        let channels = common::stored_channels(&self.connection, id).map_err(err)?;
        let mut state = SeriesState::default();
        state.adopt(&name, layout_of(&channels, gap_ms), Vec::new());
        self.known.series(id, known::Series { bank, name, kind, gap_ms, channels });
        Ok(state)
    }
}

impl SeriesState {
    /// Turns to a boot, which may have samples already: finds its last moment and the values that the next interval
    /// starts from.
    pub(super) fn begin(
        &mut self,
        connection: &Connection,
        path: &Path,
        id: SeriesId,
        boot: BootNo,
        pending: &Pending,
    ) -> Result<()> {
        let waiting = pending
            .closed
            .iter()
            .rev()
            .find(|(other, its_boot, _)| *other == id && *its_boot == boot)
            .map(|(_, _, closed)| (closed.last_ms, closed.chunk.clone()));
        let last = match waiting {
            Some(last) => Some(last),
            None => last_chunk(connection, id, boot).map_err(|e| Error::sqlite(path, "read the last chunk", e))?,
        };
        self.boot = Some(boot);
        self.block = Block::default();
        self.block.widen(self.layout.units.len());
        self.carry = vec![None; self.layout.units.len() + 1];
        self.last_ms = last.as_ref().map(|(last_ms, _)| *last_ms);
        // From a chunk that is damaged no interval starts: it costs a second or so in the sums, and must not keep new
        // samples out. Whoever reads the chunk is told.
        if let Some(columns) = last.and_then(|(_, data)| codec::decode(&data, |_| true).ok()) {
            carry_from(&columns, &self.layout, &mut self.carry);
        }
        Ok(())
    }
}

/// Last moment and content of the last chunk.
fn last_chunk(connection: &Connection, id: SeriesId, boot: BootNo) -> rusqlite::Result<Option<(i64, Vec<u8>)>> {
    connection
        .prepare_cached(
            "SELECT last_mono_ms, data FROM chunk WHERE series = ?1 AND boot = ?2
             ORDER BY first_mono_ms DESC LIMIT 1",
        )?
        .query_row(params![id.0, boot.0], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()
}

fn carry_from(columns: &Columns, layout: &Layout, carry: &mut [Carry]) {
    let last_of = |values: &[f64]| {
        let rows = columns.time_ms.iter().zip(values);
        rows.rev().find(|(_, value)| !value.is_nan()).map(|(time, value)| (*time, *value))
    };
    for (position, values) in (0_i64..).zip(&columns.channels) {
        carry[slot(position)] = last_of(values);
    }
    if let Some((voltage, current)) = layout.power_from {
        carry[slot(POWER)] = last_of(&power_of(columns, voltage, current));
    }
}
