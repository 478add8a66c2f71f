//! Every sample of every device: device after device, each in the order of boot and monotonic time within a month.

use std::collections::VecDeque;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{Timestamp, ToSpan};

use super::{Asked, Cell, Column, Kind, Table, columns};
use crate::quantity::{BootNo, MonoMs, UtcMs};
use crate::review::series_of;
use crate::store::{ColumnWalk, Reader, Result, SeriesInfo, SeriesKind};

/// Columns before the channels.
const LEADING: [(&str, Kind); 6] = [
    ("bank", Kind::Text),
    ("device", Kind::Text),
    ("utc", Kind::Time),
    ("clock_believed", Kind::Flag),
    ("boot", Kind::Whole),
    ("mono_ms", Kind::Whole),
];

/// The samples on their way.
pub struct Samples<'r> {
    reader: &'r Reader,
    columns: Vec<Column>,
    parts: VecDeque<Part>,
    all: u64,
    open: Option<Open<'r>>,
}

/// A device over one month: read by itself, so that the store's log is not held up by an export of years.
#[derive(Clone)]
struct Part {
    series: SeriesInfo,
    /// For each of the channels' columns, the position in the series.
    positions: Vec<Option<usize>>,
    from: UtcMs,
    to: UtcMs,
}

struct Open<'r> {
    part: Part,
    walk: ColumnWalk<'r>,
    stretch: Stretch,
}

/// Samples that are unpacked.
#[derive(Default)]
struct Stretch {
    boot: Option<BootNo>,
    believed: bool,
    utc: Vec<UtcMs>,
    mono: Vec<i64>,
    channels: Vec<Vec<f64>>,
    next: usize,
}

impl<'r> Samples<'r> {
    /// Finds out which devices and months there are.
    pub fn begin(reader: &'r Reader, asked: &Asked) -> Result<Samples<'r>> {
        let mut series = Vec::new();
        for bank in &asked.banks {
            series.extend(series_of(reader, &bank.name, SeriesKind::Device)?);
        }
        let mut channels: Vec<&String> = Vec::new();
        for channel in series.iter().flat_map(|series| &series.channels) {
            if !channels.contains(&channel) {
                channels.push(channel);
            }
        }
        let mut parts = VecDeque::new();
        for info in &series {
            let Some((first, last)) = reader.reach(info.id)? else { continue };
            let positions =
                channels.iter().map(|name| info.channels.iter().position(|channel| channel == *name)).collect();
            let part = Part { series: info.clone(), positions, from: asked.from.max(first), to: asked.to };
            let end = UtcMs(last.0.saturating_add(1)).min(asked.to);
            parts.extend(months(part.from, end).map(|(from, to)| Part { from, to, ..part.clone() }));
        }
        let mut all = columns(&LEADING);
        all.extend(channels.iter().map(|name| Column::new(name, Kind::Number)));
        Ok(Samples { reader, columns: all, all: parts.len() as u64, parts, open: None })
    }

    /// Unpacks what comes next; false if nothing does.
    fn advance(&mut self) -> Result<bool> {
        loop {
            if let Some(Open { part, walk, stretch }) = &mut self.open {
                if let Some(columns) = walk.advance()? {
                    stretch.fill(&columns, part);
                    return Ok(true);
                }
                self.open = None;
            }
            let Some(part) = self.parts.pop_front() else { return Ok(false) };
            let walk = self.reader.columns(part.series.id, part.from, part.to)?;
            self.open = Some(Open { part, walk, stretch: Stretch::default() });
        }
    }
}

impl Table for Samples<'_> {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn time_at(&self) -> usize {
        2
    }

    fn next(&mut self, row: &mut Vec<Cell>) -> Result<bool> {
        row.clear();
        let more = self.open.as_ref().is_some_and(|open| open.stretch.next < open.stretch.utc.len());
        if !more && !self.advance()? {
            return Ok(false);
        }
        let Some(Open { part, stretch, .. }) = &mut self.open else { return Ok(false) };
        let at = stretch.next;
        stretch.next += 1;
        row.push(Cell::text(&part.series.bank));
        row.push(Cell::text(&part.series.name));
        row.push(Cell::Time(stretch.utc[at]));
        row.push(Cell::Flag(stretch.believed));
        row.push(stretch.boot.map_or(Cell::Empty, |boot| Cell::Whole(i64::from(boot.0))));
        row.push(Cell::Whole(stretch.mono[at]));
        row.extend(
            stretch.channels.iter().map(|values| values.get(at).map_or(Cell::Empty, |value| Cell::number(*value))),
        );
        Ok(true)
    }

    fn progress(&self) -> (u64, u64) {
        let open = u64::from(self.open.is_some());
        (self.all - self.parts.len() as u64 - open, self.all)
    }
}

impl Stretch {
    fn fill(&mut self, from: &crate::store::SampleColumns<'_>, part: &Part) {
        self.boot = Some(from.boot());
        self.believed = from.trusted();
        self.mono.clear();
        self.mono.extend_from_slice(from.time_ms());
        self.utc.clear();
        self.utc.extend(from.time_ms().iter().map(|mono| from.utc(MonoMs(*mono))));
        self.channels.resize_with(part.positions.len(), Vec::new);
        for (values, position) in self.channels.iter_mut().zip(&part.positions) {
            values.clear();
            values.extend_from_slice(position.and_then(|position| from.channel(position)).unwrap_or_default());
        }
        self.next = 0;
    }
}

/// The months of UTC between two times, the first and the last cut there.
fn months(from: UtcMs, to: UtcMs) -> impl Iterator<Item = (UtcMs, UtcMs)> {
    let date =
        |utc: UtcMs| Timestamp::from_millisecond(utc.0).ok().map(|at| at.to_zoned_datetime(TimeZone::UTC).date());
    let first = date(from).filter(|_| from < to).map(Date::first_of_month);
    let begins = first.into_iter().flat_map(|first| first.series(1.month()));
    let edges = begins
        .map_while(|date| date.to_zoned_datetime(TimeZone::UTC).ok().map(|at| UtcMs(at.timestamp().as_millisecond())));
    let mut left = from;
    edges.skip(1).chain([to]).map_while(move |edge| {
        let begin = left;
        left = edge.min(to);
        (begin < left).then_some((begin, left))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn months_cover_the_span_and_no_more() {
        let at = |text: &str| UtcMs(text.parse::<Timestamp>().expect("a time").as_millisecond());
        let (from, to) = (at("2026-01-15T12:00:00Z"), at("2026-03-01T00:00:00Z"));
        let found: Vec<_> = months(from, to).collect();
        assert_eq!(found, [(from, at("2026-02-01T00:00:00Z")), (at("2026-02-01T00:00:00Z"), to)]);
        assert_eq!(months(from, from).count(), 0);
        let short = (from, at("2026-01-15T13:00:00Z"));
        assert_eq!(months(short.0, short.1).collect::<Vec<_>>(), [short]);
    }
}
