//! Makes a store as a daemon would have left it after some years aboard.

use std::path::Path;

use taffrail::clock::{Trust, WallReading};
use taffrail::quantity::{Band, BandedSoc, BootNo, Moment, MonoMs, UtcMs};
use taffrail::store::{BootKind, EventRecord, FixRecord, Options, SeriesId, Writer};

use super::source::{BANK, DEVICE, Source, device_spec, track_spec};

/// 2026-11-01T00:00:00Z, where every made store ends.
pub const END_MS: i64 = 1_793_491_200_000;
/// A day.
pub const DAY_MS: i64 = 86_400_000;
/// A year, as the table of the bench counts.
pub const YEAR_MS: i64 = 365 * DAY_MS;

/// The computer is started anew each so many days, is off for so long, and hears a better time halfway through.
const BOOT_DAYS: i64 = 10;
const OFF_S: i64 = 120;
const STEP_MS: i64 = 800;
/// The first sample of a boot, seconds after its start.
const FIRST_S: i64 = 30;

/// Two corrections and six events a day.
const FIX_EVERY_S: i64 = 43_200;
const EVENT_EVERY_S: i64 = 14_400;

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Boots, clock fixes, samples, track, corrections and events of `years` years that end at [`END_MS`].
pub fn years(path: &Path, years: i64) -> Result<()> {
    let mut writer = Writer::open(path, Options::default())?;
    let series = (writer.series(&device_spec())?, writer.series(&track_spec())?);
    let mut source = Source::new(1);
    let days = years * 365;
    for first_day in (0..days).step_by(usize::try_from(BOOT_DAYS)?) {
        let begun = UtcMs(END_MS - (days - first_day) * DAY_MS);
        let length_s = BOOT_DAYS.min(days - first_day) * 86_400 - OFF_S;
        boot(&mut writer, series, &mut source, begun, length_s)?;
    }
    writer.close()?;
    Ok(())
}

fn boot(
    writer: &mut Writer,
    (device, track): (SeriesId, SeriesId),
    source: &mut Source,
    begun: UtcMs,
    length_s: i64,
) -> Result<()> {
    let boot = writer.begin_boot(&format!("bench-{}", begun.0), BootKind::Live)?;
    fix_clock(writer, boot, (FIRST_S - 1, begun.0 - 60_000), Trust::Plausible)?;
    fix_clock(writer, boot, (FIRST_S + 90, begun.0), Trust::Synchronised)?;
    fix_clock(writer, boot, (length_s / 2, begun.0 + STEP_MS), Trust::Synchronised)?;
    for second in FIRST_S..length_s {
        let at = Moment { boot, mono: MonoMs(second * 1000) };
        writer.append_values(device, at, &source.at(second))?;
        if second % 60 == 0 {
            writer.append_values(track, at, &source.track())?;
        }
        if second % FIX_EVERY_S == 0 {
            writer.fix(full_fix(at))?;
        }
        if second % EVENT_EVERY_S == 0 {
            writer.event(silence(at))?;
        }
        if second % 86_400 == 0 {
            writer.commit()?;
        }
    }
    writer.commit()?;
    Ok(())
}

fn fix_clock(writer: &mut Writer, boot: BootNo, (second, begun_ms): (i64, i64), trust: Trust) -> Result<()> {
    let mono = MonoMs(second * 1000);
    Ok(writer.clock_fix(boot, WallReading { mono, utc: UtcMs(begun_ms + mono.0), trust }, "bench")?)
}

fn full_fix(at: Moment) -> FixRecord {
    let banded = |soc: f64| BandedSoc { soc, band: Band { low: soc - 0.02, high: soc } };
    FixRecord {
        bank: BANK.to_owned(),
        at,
        kind: "full".to_owned(),
        before: Some(banded(0.98)),
        after: banded(1.0),
        text: "full fix: reckoned 98.0 %, now 100.0 %".to_owned(),
    }
}

fn silence(at: Moment) -> EventRecord {
    EventRecord {
        at,
        bank: Some(BANK.to_owned()),
        device: Some(DEVICE.to_owned()),
        kind: "device-silent".to_owned(),
        priority: "caution".to_owned(),
        text: "shunt has been silent for 10 s; look whether its cable sits".to_owned(),
    }
}
