//! What a store takes on its card, how it grows, and what it holds, told without reading its samples.

use std::ops::Range;
use std::path::Path;

use rusqlite::{Connection, params};

use super::beside::{LOG, SLATE, folder_of, with_end};
use super::copy::free_bytes;
use super::error::{Error, Result};
use super::reader::Reader;
use super::record::{SeriesId, SeriesInfo, SeriesKind};
use super::summary::DAY_MS;
use super::{common, schema};
use crate::quantity::{Timeline, UtcMs};

/// Growth is taken from so much of what was stored last, days.
const GROWTH_DAYS: i64 = 30;
/// From less than this no growth a day is told, ms: the first hours hold the tables themselves and little else.
const LEAST_GROWTH_MS: i64 = DAY_MS / 4;
/// The layout that brought the tables `written` and `set_aside`.
const LAYOUT_OF_LIFE: i64 = 3;

/// A store in numbers.
#[derive(Debug, Clone, PartialEq)]
pub struct StoreInfo {
    /// Number of its layout.
    pub layout: i64,
    /// Size of the file.
    pub file_bytes: u64,
    /// Size of the write-ahead log beside it.
    pub log_bytes: u64,
    /// Size of the slate beside it.
    pub slate_bytes: u64,
    /// What its tables and indexes take, pages in the log included, free pages not.
    pub used_bytes: u64,
    /// Free on its card, for whoever is no administrator.
    pub free_bytes: u64,
    /// UTC of the first and of the last committed sample that can be placed.
    pub span: Option<(UtcMs, UtcMs)>,
    /// Its series, in the order in which they were first seen.
    pub series: Vec<SeriesSize>,
    /// How it grew of late; `None` where too little is stored to tell.
    pub growth: Option<Growth>,
    /// Pieces that could not be read and were set aside; `None` in a layout that has no place for them.
    pub set_aside: Option<u64>,
    /// Bytes handed to the card in the hours that began in the range asked for; `None` in a layout that counts none.
    pub written_bytes: Option<u64>,
}

/// A series and how much of it there is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesSize {
    /// The series.
    pub info: SeriesInfo,
    /// Its committed samples.
    pub samples: u64,
}

/// How a store grew.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Growth {
    /// Bytes a day: samples a day, each at what one takes on average over the whole store.
    pub bytes_per_day: f64,
    /// The days that this was taken from, up to the last sample.
    pub over_days: f64,
}

impl StoreInfo {
    /// Committed samples of devices.
    #[must_use]
    pub fn device_samples(&self) -> u64 {
        self.series.iter().filter(|series| series.is_device()).map(|series| series.samples).sum()
    }

    /// Bytes of all tables and indexes by samples of devices: what is reckoned from them and noted of them is in it.
    #[must_use]
    pub fn bytes_per_sample(&self) -> Option<f64> {
        let samples = self.device_samples();
        (samples > 0).then(|| self.used_bytes as f64 / samples as f64)
    }

    /// Days until the card is full, if nothing else is written to it; `None` where the growth is not known.
    #[must_use]
    pub fn days_to_full(&self) -> Option<f64> {
        let growth = self.growth.filter(|growth| growth.bytes_per_day > 0.0)?;
        Some(self.free_bytes as f64 / growth.bytes_per_day)
    }
}

impl SeriesSize {
    /// False for what was reckoned.
    #[must_use]
    pub fn is_device(&self) -> bool {
        self.info.kind == SeriesKind::Device.as_str()
    }
}

/// Looks at the store at `path`, which may be in use; `today` is the day whose written bytes are wanted.
///
/// # Errors
/// [`Error::NotOurs`], [`Error::TooNew`], [`Error::Damaged`], or what SQLite reports.
pub fn info(path: &Path, today: Range<UtcMs>) -> Result<StoreInfo> {
    let reader = Reader::open(path)?;
    let connection = schema::open_reader(path)?;
    let err = |e| Error::sqlite(path, "look at it", e);
    let layout = connection.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(err)?;
    let has_life = layout >= LAYOUT_OF_LIFE;
    let timeline = reader.timeline()?;
    let mut span: Option<(UtcMs, UtcMs)> = None;
    let mut series = Vec::new();
    for info in reader.all_series()? {
        if let Some((first, last)) = reader.reach(info.id)? {
            let (from, to) = span.unwrap_or((first, last));
            span = Some((from.min(first), to.max(last)));
        }
        let samples = committed(&connection, info.id).map_err(err)?;
        series.push(SeriesSize { info, samples });
    }
    let on_disk = |end: &str| with_end(path, end).metadata().map_or(0, |meta| meta.len());
    let mut found = StoreInfo {
        layout,
        file_bytes: on_disk(""),
        log_bytes: on_disk(LOG),
        slate_bytes: on_disk(SLATE),
        used_bytes: used_bytes(&connection).map_err(err)?,
        free_bytes: free_bytes_beside(path)?,
        span,
        series,
        growth: None,
        set_aside: has_life.then(|| count(&connection, "SELECT count(*) FROM set_aside")).transpose().map_err(err)?,
        written_bytes: has_life.then(|| written(&connection, &timeline, &today)).transpose().map_err(err)?,
    };
    found.growth = growth(&connection, &timeline, &found).map_err(err)?;
    Ok(found)
}

/// What each table takes with its indexes, the largest first. Every page is read.
///
/// # Errors
/// As [`info`].
pub fn table_sizes(path: &Path) -> Result<Vec<(String, u64)>> {
    let connection = schema::open_reader(path)?;
    let read = || -> rusqlite::Result<Vec<(String, u64)>> {
        let mut select = connection.prepare(
            "SELECT coalesce(tbl_name, d.name), sum(pgsize) FROM dbstat d LEFT JOIN sqlite_schema s ON s.name = d.name
             WHERE aggregate = TRUE GROUP BY 1 ORDER BY 2 DESC, 1",
        )?;
        select.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs())))?.collect()
    };
    read().map_err(|e| Error::sqlite(path, "look at its tables", e))
}

fn free_bytes_beside(path: &Path) -> Result<u64> {
    let folder = folder_of(path);
    free_bytes(folder).map_err(|cause| Error::Folder { path: folder.to_owned(), cause })
}

fn used_bytes(connection: &Connection) -> rusqlite::Result<u64> {
    count(
        connection,
        "SELECT (page_count - freelist_count) * page_size
         FROM pragma_page_count, pragma_freelist_count, pragma_page_size",
    )
}

fn count(connection: &Connection, sql: &str) -> rusqlite::Result<u64> {
    connection.query_row(sql, [], |row| row.get::<_, i64>(0)).map(i64::unsigned_abs)
}

fn committed(connection: &Connection, id: SeriesId) -> rusqlite::Result<u64> {
    let sql = "SELECT coalesce((SELECT sum(count) FROM span WHERE series = ?1), 0)
                    + coalesce((SELECT sum(count) FROM tail WHERE series = ?1), 0)";
    connection.query_row(sql, [id.0], |row| row.get::<_, i64>(0)).map(i64::unsigned_abs)
}

/// Samples of devices up to the last one; chunks are counted by where they begin.
fn growth(connection: &Connection, timeline: &Timeline, info: &StoreInfo) -> rusqlite::Result<Option<Growth>> {
    let (Some((first, last)), Some(bytes_per_sample)) = (info.span, info.bytes_per_sample()) else { return Ok(None) };
    let from = first.max(UtcMs(last.0.saturating_sub(GROWTH_DAYS * DAY_MS)));
    let over_ms = last.0.saturating_sub(from.0);
    if over_ms < LEAST_GROWTH_MS {
        return Ok(None);
    }
    let sql = "SELECT (SELECT total(count) FROM chunk WHERE series = ?1 AND boot = ?2 AND first_mono_ms >= ?3 AND first_mono_ms < ?4)
                    + (SELECT total(count) FROM tail WHERE series = ?1 AND boot = ?2 AND first_mono_ms >= ?3 AND first_mono_ms < ?4)";
    let mut select = connection.prepare(sql)?;
    let mut samples = 0.0;
    for series in info.series.iter().filter(|series| series.is_device()) {
        for range in timeline.ranges(from, UtcMs(last.0.saturating_add(1))) {
            let keys = params![series.info.id.0, range.boot.0, range.from.0, range.to.0];
            samples += select.query_row(keys, |row| row.get::<_, f64>(0))?;
        }
    }
    let over_days = over_ms as f64 / DAY_MS as f64;
    Ok(Some(Growth { bytes_per_day: samples * bytes_per_sample / over_days, over_days }))
}

fn written(connection: &Connection, timeline: &Timeline, today: &Range<UtcMs>) -> rusqlite::Result<u64> {
    let mut select = connection.prepare("SELECT boot, start_mono_ms, bytes FROM written")?;
    let mut rows = select.query([])?;
    let mut bytes = 0_u64;
    while let Some(row) = rows.next()? {
        let start = timeline.utc(common::moment(row.get(0)?, row.get(1)?));
        if start.is_some_and(|start| today.contains(&start.utc)) {
            bytes = bytes.saturating_add(row.get::<_, i64>(2)?.unsigned_abs());
        }
    }
    Ok(bytes)
}
