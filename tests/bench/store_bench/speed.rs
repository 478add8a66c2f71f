//! How fast the long store answers: charts at every step, a day at full rate, everything.

use std::path::Path;

use rustix::time::{ClockId, clock_gettime};
use taffrail::clock::Clock;
use taffrail::quantity::{Channel, UtcMs};
use taffrail::store::{HistoryQuery, Options, Reader, SeriesId, SeriesKind, Writer};

use super::make::{DAY_MS, END_MS, YEAR_MS};
use super::table::{self, Goal};

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Bins of each chart.
const POINTS: usize = 1500;

/// Widths of bins, s. Charts are asked for with spans that these just fill, beside ten minutes and all of the years.
const STEPS_S: &[i64] = &[
    1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1200, 1800, 3600, 7200, 10_800, 14_400, 21_600, 28_800, 43_200,
    86_400, 172_800, 345_600,
];

/// Each chart is asked again until so many milliseconds have passed, and at least so often.
const ASK_FOR_MS: i64 = 60;
const ASK_AT_LEAST: i32 = 3;

/// What a chart shows: voltage alone, or all four columns, power among them.
const CHANNELS: [(&str, &[&str]); 2] = [("one channel", &[Channel::VOLTAGE]), ("all channels", &[])];

/// A chart and the time it took, ms.
type Timed = (f64, String);

/// Prints the time of charts of a store of `years`: a line for each span, and the slowest of all against the goal.
pub fn charts(path: &Path, years: i64, clock: &Clock) -> Result<()> {
    let reader = Reader::open(path)?;
    let series = device(&reader)?;
    table::head("charts of 1,500 points, warm, processor time: the slowest of begin, middle and end of the years");
    let mut worst: Timed = (0.0, String::new());
    let all_ms = years * YEAR_MS;
    let filled = STEPS_S.iter().map(|step| (POINTS as i64 - 2) * step * 1000).filter(|span| *span < all_ms);
    for span_ms in std::iter::once(600_000).chain(filled).chain([all_ms - 2 * OFF_MS]) {
        for (name, channels) in CHANNELS {
            let mut slowest: Timed = (0.0, String::new());
            for (place, end) in places(all_ms, span_ms) {
                let query = HistoryQuery {
                    series,
                    channels: channels.iter().map(|name| (*name).to_owned()).collect(),
                    from: UtcMs(end - span_ms),
                    to: UtcMs(end),
                    points: POINTS,
                };
                let rows = reader.history(&query)?;
                let took = repeated(clock, || reader.history(&query).map(drop))?;
                let what = format!("{}, bins of {}, {name}, {place}", words(span_ms), words(rows.step_ms));
                slowest = later(slowest, (took, what));
            }
            table::told(&slowest.1, slowest.0, "ms");
            worst = later(worst, slowest);
        }
    }
    table::row(&format!("slowest: {}", worst.1), worst.0, "ms", Goal::new(50.0, 10.0));
    Ok(())
}

/// Charts begin and end off the hour, as a screen asks.
const OFF_MS: i64 = 1_234_567;

/// Where a span is looked at.
fn places(all_ms: i64, span_ms: i64) -> [(&'static str, i64); 3] {
    let begin = END_MS - all_ms + span_ms + OFF_MS;
    [("begin", begin), ("middle", END_MS - (all_ms - span_ms) / 2 - OFF_MS), ("end", END_MS - OFF_MS)]
}

fn later(a: Timed, b: Timed) -> Timed {
    if b.0 > a.0 { b } else { a }
}

/// Prints how fast samples come out.
pub fn samples(path: &Path, years: i64, clock: &Clock) -> Result<()> {
    let reader = Reader::open(path)?;
    let series = device(&reader)?;
    table::head("samples, each with its three channels, processor time");
    let begin = END_MS - years * YEAR_MS;
    let mut slowest = 0.0_f64;
    for day in [begin + DAY_MS / 3, END_MS - years * YEAR_MS / 2, END_MS - 2 * DAY_MS - 12_345] {
        let took = repeated(clock, || count(&reader, series, (day, day + DAY_MS)).map(drop))?;
        slowest = slowest.max(took);
    }
    table::row("a day at full rate, 86,400 samples", slowest, "ms", Goal::new(10.0, 2.0));
    let mut total = 0;
    let took_s = seconds(|| {
        total = count(&reader, series, (begin, END_MS))?;
        Ok(())
    })?;
    table::row("all samples, decoded", total as f64 / took_s / 1e6, "M samples/s", Goal::new(25.0, 50.0));
    let year = (END_MS - YEAR_MS.min(years * YEAR_MS), END_MS);
    let mut rows = 0_u32;
    let took_s = seconds(|| {
        for sample in reader.samples(series, UtcMs(year.0), UtcMs(year.1))? {
            sample?;
            rows += 1;
        }
        Ok(())
    })?;
    table::told("samples of the last year, one by one", f64::from(rows) / took_s / 1e6, "M samples/s");
    let took_s = seconds(|| Ok(reader.sums(series, UtcMs(begin + 1_234_567), UtcMs(END_MS)).map(drop)?))?;
    table::told("sums over all", took_s * 1000.0, "ms");
    Ok(())
}

/// Number of samples between two times. Every channel is unpacked; the last value of each chunk is looked at.
fn count(reader: &Reader, series: SeriesId, (from, to): (i64, i64)) -> taffrail::store::Result<usize> {
    let mut walk = reader.columns(series, UtcMs(from), UtcMs(to))?;
    let mut count = 0;
    while let Some(stretch) = walk.advance()? {
        count += stretch.time_ms().len();
        let last: f64 = (0..3).filter_map(|position| stretch.channel(position)?.last()).sum();
        assert!(last.is_finite(), "every sample has its three values");
    }
    Ok(count)
}

/// Prints what opening costs.
pub fn opening(path: &Path, clock: &Clock) -> Result<()> {
    table::head("opening, processor time");
    let took_s = seconds(|| Ok(Reader::open(path).map(drop)?))?;
    table::told("reader", took_s * 1000.0, "ms");
    let took_s = seconds(|| {
        let writer = Writer::open(path, Options::default())?;
        writer.last_utc()?;
        Ok(())
    })?;
    table::told("writer, and the latest time in the store", took_s * 1000.0, "ms");
    let reader = Reader::open(path)?;
    let forever = (UtcMs(i64::MIN), UtcMs(i64::MAX));
    let took = repeated(clock, || reader.fixes(super::source::BANK, forever.0, forever.1, 1).map(drop))?;
    table::told("the last fix", took, "ms");
    let took = repeated(clock, || reader.events(None, forever.0, forever.1, 100).map(drop))?;
    table::told("the latest 100 events", took, "ms");
    Ok(())
}

fn device(reader: &Reader) -> Result<SeriesId> {
    let series = reader.all_series()?;
    let device = series.iter().find(|series| series.kind == SeriesKind::Device.as_str());
    Ok(device.ok_or("the store has no device's series")?.id)
}

/// Mean time of a question, ms.
fn repeated(clock: &Clock, mut ask: impl FnMut() -> taffrail::store::Result<()>) -> Result<f64> {
    let (begun, before) = (clock.mono(), used_s());
    let mut times = 0;
    while times < ASK_AT_LEAST || clock.mono() - begun < ASK_FOR_MS {
        ask()?;
        times += 1;
    }
    Ok((used_s() - before) * 1000.0 / f64::from(times))
}

fn seconds(work: impl FnOnce() -> Result<()>) -> Result<f64> {
    let before = used_s();
    work()?;
    Ok(used_s() - before)
}

/// Processor time of this process, s: what it takes on one core whatever else the machine does. Nothing here waits for
/// a card once the file is in memory.
fn used_s() -> f64 {
    let used = clock_gettime(ClockId::ProcessCPUTime);
    used.tv_sec as f64 + used.tv_nsec as f64 / 1e9
}

fn words(ms: i64) -> String {
    let s = ms as f64 / 1000.0;
    match s {
        s if s < 120.0 => format!("{s} s"),
        s if s < 7200.0 => format!("{:.0} min", s / 60.0),
        s if s < 2.0 * 86_400.0 => format!("{:.1} h", s / 3600.0),
        s if s < 2.0 * 365.0 * 86_400.0 => format!("{:.1} d", s / 86_400.0),
        s => format!("{:.1} y", s / 365.0 / 86_400.0),
    }
}
