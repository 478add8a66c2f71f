//! The stored stretches of a series, one by one as columns: for whoever goes through all of it while something else is
//! written, so that no long read keeps the write-ahead log from being taken into the file.

use super::Reader;
use super::skipped::Place;
use crate::quantity::{BootNo, Moment};
use crate::store::codec::{self, Columns};
use crate::store::common;
use crate::store::error::Result;
use crate::store::record::{BootKind, SeriesId};

/// A stretch of a series as it is stored: a chunk of about an hour, or a row of the open tail.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stretch {
    /// The series.
    pub series: SeriesId,
    /// Its first moment.
    pub first: Moment,
    /// Samples in it.
    pub count: u64,
    row: Row,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Row {
    /// Row of a chunk.
    Chunk(i64),
    Tail,
}

impl Reader {
    /// The stretches of a series that are committed now, in the order of boot and monotonic time.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn stretches(&self, id: SeriesId) -> Result<Vec<Stretch>> {
        let read = || -> rusqlite::Result<Vec<Stretch>> {
            self.connection
                .prepare_cached(
                    "SELECT boot, first_mono_ms, count, id FROM chunk WHERE series = ?1
                     UNION ALL
                     SELECT boot, first_mono_ms, count, NULL FROM tail WHERE series = ?1
                     ORDER BY boot, first_mono_ms",
                )?
                .query_map([id.0], |row| {
                    let place = row.get::<_, Option<i64>>(3)?.map_or(Row::Tail, Row::Chunk);
                    let first = common::moment(row.get(0)?, row.get(1)?);
                    Ok(Stretch { series: id, first, count: u64::from(row.get::<_, u32>(2)?), row: place })
                })?
                .collect()
        };
        read().map_err(self.err("list its chunks"))
    }

    /// Unpacks a stretch: its times, and those channels by position for which `wanted` says so. One that was gained later
    /// is not among the columns. `None` if it cannot be read, or was set aside.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn unpack(&self, stretch: &Stretch, wanted: impl Fn(usize) -> bool) -> Result<Option<Columns>> {
        let Stretch { series, first, row, .. } = *stretch;
        let place = Place { series, boot: first.boot, first_ms: first.mono.0, last_ms: first.mono.0 };
        let data = match row {
            Row::Chunk(id) => self.samples_of((id, place))?,
            Row::Tail => self.tail_of(place)?,
        };
        Ok(data.and_then(|data| codec::decode(&data, wanted).ok()))
    }

    /// The last committed moment of a series in each boot that has any, in the order of the boots.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn last_moments(&self, id: SeriesId) -> Result<Vec<Moment>> {
        let mut last = common::last_moments(&self.connection, Some(id)).map_err(self.err("read its last moments"))?;
        last.reverse();
        Ok(last)
    }

    /// Recorded traces that were stored as if they had been boots.
    ///
    /// # Errors
    /// What SQLite reports.
    pub fn imported_boots(&self) -> Result<Vec<BootNo>> {
        let import = BootKind::Import.as_str();
        Ok(self.boots()?.into_iter().filter(|(_, _, kind)| kind == import).map(|(boot, ..)| boot).collect())
    }
}
