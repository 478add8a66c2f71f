//! What each passage comes to, from its samples and the reconciled history where that reaches.

use super::Shelf;
use super::course::Course;
use super::feed::{Feed, Rows, SocLine};
use super::instruments::Instrument;
use super::look::Look;
use crate::health::Lane;
use crate::passage::{Summary, SummaryBuilder};
use crate::quantity::{BandedSoc, BootNo, Moment, MonoMs, Reading};
use crate::store::{Result, SeriesInfo, StoredPassage};

/// A point of the reckoned track stands in where no reconciled one is this near, ms: points come each minute.
const NEAR_MS: i64 = 90_000;

/// A stretch of one boot.
type Stretch = (BootNo, MonoMs, MonoMs);

/// Works out what the passages of a bank come to that were looked at up to a moment; false if stopped before the end. One
/// that goes on is worked out up to there. Once the reconciled history reaches over a passage, its summary stays.
pub fn work_out(look: &Look<'_>, course: &Course, at: Moment, shelf: &mut impl Shelf) -> Result<bool> {
    let passages = look.reader.passages(&look.work.bank.name)?;
    let reach = reconciled_reach(look, course)?;
    for passage in passages.iter().filter(|passage| !passage.settled) {
        let seen = passage.end.filter(|end| course.rank(*end) <= course.rank(at));
        let settled = seen.is_some_and(|end| reach >= course.rank(end));
        if passage.summary.is_some() && seen.is_some() && !settled {
            continue;
        }
        match summary(look, course, passage, seen.unwrap_or(at))? {
            None => return Ok(false),
            // A passage that goes on comes to the same until more of it is looked at.
            Some(summary) if passage.summary.as_ref() == Some(&summary) && !settled => {}
            Some(summary) => shelf.keep_summary(passage.id, summary, settled)?,
        }
    }
    Ok(true)
}

/// Up to where the reconciled history reaches, by rank.
fn reconciled_reach(look: &Look<'_>, course: &Course) -> Result<Option<(usize, MonoMs)>> {
    let Some(reconciled) = &look.instruments.reconciled else { return Ok(None) };
    let last = look.reader.last_moments(reconciled.id)?;
    Ok(last.into_iter().filter_map(|last| course.rank(last)).max())
}

/// `None` if stopped.
fn summary(look: &Look<'_>, course: &Course, passage: &StoredPassage, end: Moment) -> Result<Option<Summary>> {
    let main = &look.instruments.main.series;
    let mut builder = SummaryBuilder::new(&look.work.aboard(), main.gap_ms);
    let mut reconciled = true;
    for (place, stretch) in course.between(passage.begin, end).into_iter().enumerate() {
        if look.stop.is_cancelled() {
            return Ok(None);
        }
        readings(look, stretch, place == 0, &mut builder)?;
        speeds(look, stretch, &mut builder)?;
        reconciled &= charges(look, stretch, &mut builder)?;
    }
    Ok(Some(builder.finish(duration_s(look, passage.begin, end)?, reconciled)))
}

/// Within a boot a clock that is set makes no time.
fn duration_s(look: &Look<'_>, begin: Moment, end: Moment) -> Result<Option<f64>> {
    if begin.boot == end.boot {
        return Ok(Some(end.mono.seconds_since(begin.mono)));
    }
    let timeline = look.reader.timeline()?;
    let utc = |at| timeline.utc(at).map(|placed| placed.utc);
    Ok(utc(end).zip(utc(begin)).map(|(end, begin)| end.seconds_since(begin).max(0.0)))
}

fn readings(look: &Look<'_>, (boot, from, to): Stretch, follow: bool, builder: &mut SummaryBuilder) -> Result<()> {
    let (main, places) = (&look.instruments.main.series, look.instruments.places);
    let mut feed = Feed::new(look.reader, main, boot, from + -main.gap_ms, to)?;
    let mut before = None;
    feed.before(from.0, |rows| each_reading(rows, places, boot, |at, reading| before = Some((at, *reading))))?;
    if let Some((at, reading)) = before.filter(|_| follow) {
        builder.follow_on(at, &reading);
    }
    feed.before(to.0, |rows| each_reading(rows, places, boot, |at, reading| builder.reading(at, reading)))
}

fn each_reading(rows: &Rows<'_>, places: [Option<usize>; 3], boot: BootNo, mut take: impl FnMut(Moment, &Reading)) {
    let [voltage_v, current_a, temperature_c] = places.map(|place| rows.channel(place));
    let values = |column: &[f64], row: usize| column.get(row).copied().unwrap_or(f64::NAN);
    for (row, &time) in rows.time_ms().iter().enumerate() {
        let at = Moment { boot, mono: MonoMs(time) };
        let reading = Reading {
            t_s: at.mono.seconds_since(MonoMs(0)),
            voltage_v: values(voltage_v, row),
            current_a: values(current_a, row),
            temperature_c: Some(values(temperature_c, row)).filter(|value| !value.is_nan()),
        };
        take(at, &reading);
    }
}

fn speeds(look: &Look<'_>, (boot, from, to): Stretch, builder: &mut SummaryBuilder) -> Result<()> {
    let speed = |instrument: &'_ Instrument| {
        instrument.lanes.iter().find_map(|(position, lane)| match lane {
            Lane::Speed { knots } => Some((*position, *knots)),
            _ => None,
        })
    };
    let all = std::iter::once(&look.instruments.main).chain(&look.instruments.others);
    let found: Option<(&SeriesInfo, (usize, f64))> =
        all.filter_map(|instrument| Some((&instrument.series, speed(instrument)?))).next();
    let Some((series, (position, knots))) = found else { return Ok(()) };
    let mut feed = Feed::new(look.reader, series, boot, from, to)?;
    feed.before(to.0, |rows| {
        for (time, speed) in rows.time_ms().iter().zip(rows.channel(Some(position))) {
            builder.speed(Moment { boot, mono: MonoMs(*time) }, speed * knots, series.gap_ms);
        }
    })
}

/// Gives the line of the charge; false if part of it is not reconciled.
fn charges(look: &Look<'_>, stretch: Stretch, builder: &mut SummaryBuilder) -> Result<bool> {
    let boot = stretch.0;
    let reconciled = points(look, look.instruments.reconciled.as_ref(), stretch)?;
    let mut line: Vec<(i64, BandedSoc)> = points(look, look.instruments.track.as_ref(), stretch)?;
    line.retain(|(time, _)| {
        let next = reconciled.partition_point(|(other, _)| other < time);
        let near = |place: Option<usize>| {
            place.and_then(|place| reconciled.get(place)).is_some_and(|(other, _)| (other - time).abs() <= NEAR_MS)
        };
        !near(Some(next)) && !near(next.checked_sub(1))
    });
    let whole = line.is_empty();
    line.extend(reconciled);
    line.sort_unstable_by_key(|(time, _)| *time);
    line.iter().for_each(|(time, soc)| builder.charge(Moment { boot, mono: MonoMs(*time) }, *soc));
    Ok(whole)
}

fn points(look: &Look<'_>, series: Option<&SeriesInfo>, (boot, from, to): Stretch) -> Result<Vec<(i64, BandedSoc)>> {
    let Some(series) = series else { return Ok(Vec::new()) };
    let mut points = Vec::new();
    SocLine::new(look.reader, series, boot, from, to)?.each_before(to.0, |time, soc| {
        if time >= from.0 {
            points.push((time, soc));
        }
    })?;
    Ok(points)
}
