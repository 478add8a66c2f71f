//! A stretch of one boot through the watches.

use tokio_util::sync::CancellationToken;

use super::Surveying;
use super::feed::{Feed, Rows, SocLine};
use super::instruments::{Instrument, Instruments};
use crate::daemon::take_up::time_off;
use crate::health::{FixMark, Lane, MainRows, MinuteBuilder};
use crate::quantity::{BootNo, MINUTE_MS, Minute, Moment, MonoMs, Reading};
use crate::reckoning::{FixKind, TimeOff};
use crate::store::{Reader, Result};

/// A voltage of a monobloc that another device read is that of a sample for this long, ms.
const HELD_MS: i64 = 2_000;
/// Minutes between two looks at whether to stop.
const LOOK_EVERY: u32 = 512;

/// What is walked.
#[derive(Debug, Clone, Copy)]
pub struct Stretch {
    pub boot: BootNo,
    /// From here, where a minute begins or a boot.
    pub from: MonoMs,
    /// To here, not included.
    pub to: MonoMs,
}

/// Whoever is shown what a bank lived.
pub trait Watching {
    /// A sample of the main device with voltage and current; `monobloc_v` is NaN where none is known.
    fn reading(&mut self, at: Moment, reading: &Reading, monobloc_v: &[f64]);
    /// A minute, after its samples.
    fn minute(&mut self, minute: &Minute);
    /// A fix, after the minute that holds it.
    fn fix(&mut self, fix: &FixMark);
}

/// A walk on its way.
pub struct Walk<'a, W> {
    pub reader: &'a Reader,
    pub work: &'a Surveying,
    pub instruments: &'a Instruments,
    pub eyes: &'a mut W,
    pub stop: &'a CancellationToken,
}

/// The feeds of other devices, and what they said last of monoblocs.
struct Others<'r> {
    feeds: Vec<(Feed<'r>, &'r Instrument)>,
    held: Held,
}

/// Voltages of monoblocs that other devices read.
#[derive(Default)]
struct Held {
    /// To come: when, which, and the voltage.
    ahead: Vec<(i64, usize, f64)>,
    next: usize,
    /// Which are read by others, when last, and the voltage.
    now: Vec<(usize, i64, f64)>,
}

impl<W: Watching> Walk<'_, W> {
    /// Walks a stretch; gives where its last minute ended, or `end` if it has none. `None` if stopped before its end: then
    /// nothing of it counts.
    pub fn through(&mut self, stretch: Stretch, end: Option<Moment>) -> Result<Option<Option<Moment>>> {
        let Stretch { boot, from, to } = stretch;
        let (reader, instruments) = (self.reader, self.instruments);
        let main_series = &instruments.main.series;
        let mut builder = MinuteBuilder::new(main_series.gap_ms, instruments.monoblocs, instruments.branches, end);
        let mut main = Feed::new(reader, main_series, boot, from + -main_series.gap_ms, to)?;
        let mut others = Others::new(reader, instruments, stretch)?;
        let mut track = match &instruments.track {
            Some(track) => Some(SocLine::new(reader, track, boot, from, to)?),
            None => None,
        };
        let mut fixes = self.fixes(stretch)?.into_iter().peekable();
        main.before(from.0, |rows| main_rows(&mut builder, instruments, from.0 - MINUTE_MS, rows))?;
        others.before(from.0, &mut builder)?;
        builder.leave(Moment { boot, mono: from });
        let mut ended = end;
        let mut count = 0_u32;
        while let Some(next) = main.peek()? {
            count += 1;
            if count.is_multiple_of(LOOK_EVERY) && self.stop.is_cancelled() {
                return Ok(None);
            }
            let start = next.div_euclid(MINUTE_MS) * MINUTE_MS;
            let at = Moment { boot, mono: MonoMs(start) };
            // What others said while the main device was silent is in no minute.
            others.before(start, &mut builder)?;
            builder.leave(at);
            others.before(start + MINUTE_MS, &mut builder)?;
            main.before(start + MINUTE_MS, |rows| {
                main_rows(&mut builder, instruments, start, rows);
                self.readings(boot, rows, &mut others.held);
            })?;
            let soc = track.as_mut().map(|track| track.before(start + MINUTE_MS)).transpose()?.flatten();
            let off_s = ended.filter(|end| end.boot != boot).map(|end| self.off_s(end, at)).transpose()?.flatten();
            if let Some(minute) = builder.close(at, soc, off_s) {
                ended = Some(minute.end());
                self.eyes.minute(&minute);
            }
            while let Some(fix) = fixes.next_if(|fix| fix.at.mono.0 < start + MINUTE_MS) {
                self.eyes.fix(&fix);
            }
        }
        fixes.for_each(|fix| self.eyes.fix(&fix));
        Ok(Some(ended))
    }

    fn fixes(&self, Stretch { boot, from, to }: Stretch) -> Result<Vec<FixMark>> {
        let stored = self.reader.fixes_within(&self.work.bank.name, boot, from, to)?;
        let mark = |fix: crate::store::FixRecord| {
            let kind = FixKind::of_word(&fix.kind)?;
            Some(FixMark { at: fix.at, kind, before: fix.before, after: fix.after })
        };
        Ok(stored.into_iter().filter_map(|stored| mark(stored.fix)).collect())
    }

    /// Time between two moments of different boots, as far as clocks tell.
    fn off_s(&self, before: Moment, after: Moment) -> Result<Option<f64>> {
        let timeline = self.reader.timeline()?;
        Ok(match time_off(timeline.utc(before), timeline.utc(after)) {
            TimeOff::Known { seconds } | TimeOff::Claimed { seconds } => Some(seconds),
            TimeOff::Unknown => None,
        })
    }

    fn readings(&mut self, boot: BootNo, rows: &Rows<'_>, held: &mut Held) {
        let [voltage_v, current_a, temperature_c] = self.instruments.places.map(|place| rows.channel(place));
        let mut monobloc_v = vec![f64::NAN; self.instruments.monoblocs];
        let own: Vec<(usize, &[f64])> = monoblocs(&self.instruments.main)
            .map(|(position, place)| (place, rows.channel(Some(position))))
            .filter(|(_, values)| !values.is_empty())
            .collect();
        for (row, ((&time, &voltage_v), &current_a)) in rows.time_ms().iter().zip(voltage_v).zip(current_a).enumerate()
        {
            if voltage_v.is_nan() || current_a.is_nan() {
                continue;
            }
            for (place, values) in &own {
                monobloc_v[*place] = values[row];
            }
            held.fill(time, &mut monobloc_v);
            let at = Moment { boot, mono: MonoMs(time) };
            let temperature_c = temperature_c.get(row).copied().filter(|value| !value.is_nan());
            let reading = Reading { t_s: at.mono.seconds_since(MonoMs(0)), voltage_v, current_a, temperature_c };
            self.eyes.reading(at, &reading, &monobloc_v);
        }
    }
}

fn main_rows(builder: &mut MinuteBuilder, instruments: &Instruments, start: i64, rows: &Rows<'_>) {
    let [voltage_v, current_a, temperature_c] = instruments.places.map(|place| rows.channel(place));
    builder.main(start, &MainRows { time_ms: rows.time_ms(), voltage_v, current_a, temperature_c });
    lane_rows(builder, &instruments.main, rows);
}

fn lane_rows(builder: &mut MinuteBuilder, instrument: &Instrument, rows: &Rows<'_>) {
    for (position, lane) in &instrument.lanes {
        builder.lane(*lane, instrument.series.gap_ms, rows.time_ms(), rows.channel(Some(*position)));
    }
}

/// Positions and places of the monoblocs that an instrument reads.
fn monoblocs(instrument: &Instrument) -> impl Iterator<Item = (usize, usize)> {
    instrument.lanes.iter().filter_map(|(position, lane)| match lane {
        Lane::Monobloc(place) => Some((*position, *place)),
        _ => None,
    })
}

impl<'r> Others<'r> {
    fn new(
        reader: &'r Reader,
        instruments: &'r Instruments,
        Stretch { boot, from, to }: Stretch,
    ) -> Result<Others<'r>> {
        let feed = |other: &'r Instrument| {
            let feed = Feed::new(reader, &other.series, boot, from + -other.series.gap_ms, to)?;
            Ok((feed, other))
        };
        let feeds = instruments.others.iter().map(feed).collect::<Result<_>>()?;
        let read = instruments.others.iter().flat_map(monoblocs);
        let now = read.map(|(_, place)| (place, i64::MIN, f64::NAN)).collect();
        Ok(Others { feeds, held: Held { now, ..Held::default() } })
    }

    /// Takes what comes before an end.
    fn before(&mut self, end_ms: i64, builder: &mut MinuteBuilder) -> Result<()> {
        self.held.settle();
        for (feed, instrument) in &mut self.feeds {
            let held = &mut self.held;
            feed.before(end_ms, |rows| {
                lane_rows(builder, instrument, rows);
                for (position, place) in monoblocs(instrument) {
                    let values = rows.time_ms().iter().zip(rows.channel(Some(position)));
                    held.ahead.extend(values.map(|(time, value)| (*time, place, *value)));
                }
            })?;
        }
        self.held.ahead.sort_unstable_by_key(|(time, place, _)| (*time, *place));
        Ok(())
    }
}

impl Held {
    /// What was to come has come.
    fn settle(&mut self) {
        self.fill(i64::MAX, &mut []);
        self.ahead.clear();
        self.next = 0;
    }

    /// Fills in what is known at a time.
    fn fill(&mut self, time: i64, monobloc_v: &mut [f64]) {
        while let Some((at, place, value)) = self.ahead.get(self.next).filter(|(at, ..)| *at <= time) {
            if let Some(now) = self.now.iter_mut().find(|(known, ..)| known == place) {
                *now = (*place, *at, *value);
            }
            self.next += 1;
        }
        for (place, at, value) in &self.now {
            if let Some(voltage_v) = monobloc_v.get_mut(*place) {
                *voltage_v = if time.saturating_sub(*at) <= HELD_MS { *value } else { f64::NAN };
            }
        }
    }
}
