//! Local days of the boat's zone: what went in and out, and extremes.

use jiff::Timestamp;
use jiff::civil::Date;

use super::{Asked, Cell, Column, Kind, Table, columns};
use crate::quantity::{Channel, UtcMs};
use crate::review::{POWER, series_of, stretches};
use crate::store::{Reader, Result, SeriesKind, Summary};

const COLUMNS: [(&str, Kind); 19] = [
    ("bank", Kind::Text),
    ("day", Kind::Text),
    ("start_utc", Kind::Time),
    ("length_s", Kind::Number),
    ("covered_s", Kind::Number),
    ("charge_in_ah", Kind::Number),
    ("charge_out_ah", Kind::Number),
    ("energy_in_wh", Kind::Number),
    ("energy_out_wh", Kind::Number),
    ("voltage_min_v", Kind::Number),
    ("voltage_mean_v", Kind::Number),
    ("voltage_max_v", Kind::Number),
    ("current_min_a", Kind::Number),
    ("current_max_a", Kind::Number),
    ("temperature_min_c", Kind::Number),
    ("temperature_mean_c", Kind::Number),
    ("temperature_max_c", Kind::Number),
    ("soc_min", Kind::Number),
    ("soc_max", Kind::Number),
];

/// Days that are read at once: a season.
const AT_ONCE: usize = 92;

/// The days on their way.
pub struct Days<'r> {
    reader: &'r Reader,
    asked: Asked,
    columns: Vec<Column>,
    /// For each bank the days that it reaches over.
    left: Vec<(usize, Vec<Date>)>,
    ready: std::vec::IntoIter<Vec<Cell>>,
    all: u64,
    done: u64,
}

impl<'r> Days<'r> {
    /// Finds out which days there are.
    pub fn begin(reader: &'r Reader, asked: Asked) -> Result<Days<'r>> {
        let mut left = Vec::new();
        let mut all = 0;
        for (place, bank) in asked.banks.iter().enumerate() {
            let mut reach: Option<(UtcMs, UtcMs)> = None;
            for series in series_of(reader, &bank.name, SeriesKind::Device)? {
                if let Some((first, last)) = reader.reach(series.id)? {
                    reach = Some(reach.map_or((first, last), |(from, to)| (from.min(first), to.max(last))));
                }
            }
            let Some((first, last)) = reach else { continue };
            let days = asked.days(first, last);
            all += days.len() as u64;
            left.extend(days.chunks(AT_ONCE).map(|days| (place, days.to_vec())));
        }
        left.reverse();
        Ok(Days { reader, asked, columns: columns(&COLUMNS), left, ready: Vec::new().into_iter(), all, done: 0 })
    }

    fn read(&self, bank: &str, days: &[Date]) -> Result<Vec<Vec<Cell>>> {
        let tomorrow = days.last().and_then(|day| day.tomorrow().ok());
        let edges: Vec<UtcMs> =
            days.iter().copied().chain(tomorrow).filter_map(|day| self.asked.start_of(day)).collect();
        let names = [Channel::CURRENT, POWER, Channel::VOLTAGE, Channel::TEMPERATURE];
        let measured = stretches::measured(self.reader, bank, names, &edges)?;
        let charge = stretches::charge(self.reader, bank, &edges)?;
        let lengths = edges.windows(2).map(|pair| (pair[0], pair[1].seconds_since(pair[0])));
        let rows = days.iter().zip(lengths).zip(measured.iter().zip(&charge));
        // A day that the zone left out was none; one without samples is left out too.
        let lived = rows.filter(|((_, (_, length_s)), (measured, _))| *length_s > 0.0 && measured[0].count > 0);
        Ok(lived.map(|((day, start), (measured, soc))| row(bank, *day, start, measured, soc)).collect())
    }
}

impl Asked {
    /// The local days from one time to another that lie within what is asked for.
    fn days(&self, first: UtcMs, last: UtcMs) -> Vec<Date> {
        let date = |utc: UtcMs| {
            Timestamp::from_millisecond(utc.0).ok().map(|at| at.to_zoned_datetime(self.zone.clone()).date())
        };
        let last = last.min(UtcMs(self.to.0.saturating_sub(1)));
        let (Some(from), Some(to)) = (date(first.max(self.from)), date(last)) else { return Vec::new() };
        from.series(jiff::Span::new().days(1)).take_while(|day| *day <= to).collect()
    }

    fn start_of(&self, day: Date) -> Option<UtcMs> {
        day.to_zoned_datetime(self.zone.clone()).ok().map(|at| UtcMs(at.timestamp().as_millisecond()))
    }
}

impl Table for Days<'_> {
    fn columns(&self) -> &[Column] {
        &self.columns
    }

    fn time_at(&self) -> usize {
        2
    }

    fn next(&mut self, row: &mut Vec<Cell>) -> Result<bool> {
        row.clear();
        loop {
            if let Some(cells) = self.ready.next() {
                row.extend(cells);
                return Ok(true);
            }
            let Some((bank, days)) = self.left.pop() else { return Ok(false) };
            self.ready = self.read(&self.asked.banks[bank].name, &days)?.into_iter();
            self.done += days.len() as u64;
        }
    }

    fn progress(&self) -> (u64, u64) {
        (self.done, self.all)
    }
}

fn row(bank: &str, day: Date, (start, length_s): (UtcMs, f64), measured: &[Summary; 4], soc: &Summary) -> Vec<Cell> {
    let [current, power, voltage, temperature] = measured;
    let hours = |unit_s: f64| Cell::number(unit_s / 3600.0);
    vec![
        Cell::text(bank),
        Cell::Text(day.to_string()),
        Cell::Time(start),
        Cell::number(length_s),
        Cell::number(current.covered_s),
        hours(current.positive),
        hours(0.0 - current.negative),
        hours(power.positive),
        hours(0.0 - power.negative),
        Cell::number(voltage.min),
        Cell::number(voltage.mean()),
        Cell::number(voltage.max),
        Cell::number(current.min),
        Cell::number(current.max),
        Cell::number(temperature.min),
        Cell::number(temperature.mean()),
        Cell::number(temperature.max),
        Cell::number(soc.min),
        Cell::number(soc.max),
    ]
}
