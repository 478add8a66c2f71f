//! The store as a whole: crashes, restarts, long histories.

mod anew;
mod any_series;
mod blocks;
mod charts;
mod clock;
mod copies;
mod crash;
mod damage;
mod disk;
mod errors;
mod keeps;
mod layouts;
mod opening;
mod power;
mod replace;
mod slate;
mod take_in;
mod thread;
mod verify;

use std::path::{Path, PathBuf};

use taffrail::clock::{Trust, WallReading};
use taffrail::quantity::{BootNo, Channel, Moment, MonoMs, Sample, UtcMs};
use taffrail::store::{BootKind, Options, Reader, SeriesId, SeriesKind, SeriesSpec, StoredSample, Writer};

/// 2026-12-01T00:00:00Z.
const START: i64 = 1_796_083_200_000;
const HOUR: i64 = 3_600_000;

struct Scratch {
    _dir: tempfile::TempDir,
    path: PathBuf,
}

fn scratch() -> Scratch {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let path = dir.path().join("marigold.sqlite");
    Scratch { _dir: dir, path }
}

fn open(path: &Path) -> Writer {
    Writer::open(path, Options::default()).expect("opens")
}

fn shunt(gap_ms: i64) -> SeriesSpec {
    spec("shunt", &["voltage_v", "current_a", "temperature_c"], gap_ms)
}

fn spec(name: &str, channels: &[&str], gap_ms: i64) -> SeriesSpec {
    SeriesSpec {
        name: name.to_owned(),
        kind: SeriesKind::Device,
        bank: "house".to_owned(),
        channels: channels.iter().map(|c| Channel::try_new(c).expect("a name")).collect(),
        gap_ms,
    }
}

/// A boot whose monotonic zero is at `utc_ms`.
fn boot_at(writer: &mut Writer, boot_id: &str, utc_ms: i64) -> BootNo {
    let boot = writer.begin_boot(boot_id, BootKind::Live).expect("noted");
    writer.clock_fix(boot, wall(0, utc_ms, Trust::Synchronised), "first").expect("known boot");
    boot
}

fn wall(mono: i64, utc: i64, trust: Trust) -> WallReading {
    WallReading { mono: MonoMs(mono), utc: UtcMs(utc), trust }
}

fn at(boot: BootNo, mono: i64) -> Moment {
    Moment { boot, mono: MonoMs(mono) }
}

fn sample(boot: BootNo, mono: i64, values: &[f64]) -> Sample {
    Sample { at: at(boot, mono), values: values.iter().map(|v| (!v.is_nan()).then_some(*v)).collect() }
}

/// What the shunt reads at a second.
fn values(second: i64) -> [f64; 3] {
    [50.0 + (second % 7) as f64 / 1000.0, (second % 5) as f64 / 100.0, 20.0]
}

/// Appends the seconds `from..to` of a boot.
fn append(writer: &mut Writer, series: SeriesId, boot: BootNo, seconds: std::ops::Range<i64>) {
    for second in seconds {
        writer.append(series, &sample(boot, second * 1000, &values(second))).expect("fits");
    }
}

/// A store with one boot and a series.
fn begun(path: &Path) -> (Writer, BootNo, SeriesId) {
    let mut writer = open(path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    writer.commit().expect("room");
    (writer, boot, series)
}

fn all_samples(path: &Path, series: SeriesId) -> Vec<StoredSample> {
    let reader = Reader::open(path).expect("opens");
    reader
        .samples(series, UtcMs(i64::MIN), UtcMs(i64::MAX))
        .expect("known series")
        .collect::<Result<_, _>>()
        .expect("sound chunks")
}

fn count(path: &Path, table: &str) -> i64 {
    rusqlite::Connection::open(path)
        .and_then(|c| c.query_row(&format!("SELECT count(*) FROM {table}"), [], |row| row.get(0)))
        .expect("a table")
}
