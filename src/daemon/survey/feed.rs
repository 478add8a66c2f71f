//! Samples of one series, minute by minute.

use crate::quantity::{Band, BandedSoc, BootNo, MonoMs};
use crate::store::{ColumnWalk, Reader, Result, SampleColumns, SeriesInfo};

/// Gives the rows of a series that come before an end, each once.
pub struct Feed<'r> {
    walk: ColumnWalk<'r>,
    /// The next row of the present columns.
    row: usize,
    loaded: bool,
    /// Longest interval that is none, ms.
    pub gap_ms: i64,
}

/// Rows that follow each other.
#[derive(Clone, Copy)]
pub struct Rows<'w> {
    columns: SampleColumns<'w>,
    from: usize,
    to: usize,
}

impl<'w> Rows<'w> {
    /// Their times, ms; never empty.
    pub fn time_ms(&self) -> &'w [i64] {
        &self.columns.time_ms()[self.from..self.to]
    }

    /// Values of the channel at a position, NaN where there is none; empty if none of them has one.
    pub fn channel(&self, position: Option<usize>) -> &'w [f64] {
        let column = position.and_then(|position| self.columns.channel(position));
        column.filter(|values| !values.is_empty()).map_or(&[], |values| &values[self.from..self.to])
    }
}

impl<'r> Feed<'r> {
    /// Samples of a boot from one moment to another (not included).
    pub fn new(reader: &'r Reader, series: &SeriesInfo, boot: BootNo, from: MonoMs, to: MonoMs) -> Result<Feed<'r>> {
        let walk = reader.boot_columns(series.id, boot, from, to)?;
        Ok(Feed { walk, row: 0, loaded: false, gap_ms: series.gap_ms })
    }

    /// The time of the next row, ms; `None` after the last.
    pub fn peek(&mut self) -> Result<Option<i64>> {
        loop {
            if self.loaded
                && let Some(time) = self.walk.present().and_then(|columns| columns.time_ms().get(self.row).copied())
            {
                return Ok(Some(time));
            }
            self.row = 0;
            self.loaded = self.walk.advance()?.is_some();
            if !self.loaded {
                return Ok(None);
            }
        }
    }

    /// Gives the rows before `end_ms`, some at a time.
    pub fn before(&mut self, end_ms: i64, mut take: impl FnMut(&Rows<'_>)) -> Result<()> {
        while self.peek()?.is_some_and(|time| time < end_ms) {
            let Some(columns) = self.walk.present() else { return Ok(()) };
            let times = columns.time_ms();
            let to = self.row + times[self.row..].partition_point(|time| *time < end_ms);
            take(&Rows { columns, from: self.row, to });
            self.row = to;
        }
        Ok(())
    }
}

/// A line of the state of charge, a point a minute.
pub struct SocLine<'r> {
    feed: Feed<'r>,
    places: [Option<usize>; 3],
    last: Option<(i64, BandedSoc)>,
}

impl<'r> SocLine<'r> {
    /// The line in a series with `soc`, `soc_low` and `soc_high`.
    pub fn new(reader: &'r Reader, series: &SeriesInfo, boot: BootNo, from: MonoMs, to: MonoMs) -> Result<SocLine<'r>> {
        let place = |name: &str| series.channels.iter().position(|channel| channel == name);
        let feed = Feed::new(reader, series, boot, from + -series.gap_ms, to)?;
        Ok(SocLine { feed, places: ["soc", "soc_low", "soc_high"].map(place), last: None })
    }

    /// The latest point before `end_ms`, if it is no older than the gap of the line.
    pub fn before(&mut self, end_ms: i64) -> Result<Option<BandedSoc>> {
        let (places, last) = (self.places, &mut self.last);
        self.feed.before(end_ms, |rows| *last = last_point(rows, places).or(*last))?;
        let gap_ms = self.feed.gap_ms;
        Ok(self.last.filter(|(time, _)| end_ms - time <= gap_ms).map(|(_, soc)| soc))
    }

    /// Gives each point before `end_ms`.
    pub fn each_before(&mut self, end_ms: i64, mut take: impl FnMut(i64, BandedSoc)) -> Result<()> {
        let places = self.places;
        self.feed.before(end_ms, |rows| {
            for (row, &time) in rows.time_ms().iter().enumerate() {
                if let Some(soc) = point(rows, places, row) {
                    take(time, soc);
                }
            }
        })
    }
}

fn last_point(rows: &Rows<'_>, places: [Option<usize>; 3]) -> Option<(i64, BandedSoc)> {
    let times = rows.time_ms();
    (0..times.len()).rev().find_map(|row| Some((times[row], point(rows, places, row)?)))
}

fn point(rows: &Rows<'_>, places: [Option<usize>; 3], row: usize) -> Option<BandedSoc> {
    let [soc, low, high] = places.map(|place| rows.channel(place).get(row).copied().filter(|value| !value.is_nan()));
    Some(BandedSoc { soc: soc?, band: Band { low: low?, high: high? } })
}
