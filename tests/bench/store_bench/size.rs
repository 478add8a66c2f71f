//! Bytes that a sample takes, all tables and indexes, in a year of a bank's three channels at 1 Hz.

use std::path::Path;

use taffrail::clock::{Clock, Trust, WallReading};
use taffrail::quantity::{Moment, MonoMs, UtcMs};
use taffrail::store::{BootKind, Options, Writer};

use super::make::{END_MS, YEAR_MS};
use super::source::{Source, device_spec};
use super::table::{self, Goal};

type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Samples between two commits.
const BATCH: i64 = 86_400;
const YEAR_S: i64 = YEAR_MS / 1000;

/// Prints the size of a year with noise of one and of two steps. Makes what is not there.
pub fn sizes(directory: &Path, clock: &Clock) -> Result<()> {
    table::head("size of a year, samples of three channels at 1 Hz");
    for (noise, goal) in [(1, Some(Goal::new(2.0, 1.5))), (2, None)] {
        let path = directory.join(format!("year-noise-{noise}.sqlite"));
        if !path.exists() {
            let begun = clock.mono();
            make(&path, noise)?;
            let took_s = clock.mono().seconds_since(begun);
            table::told(&format!("import, noise of {noise} steps"), YEAR_S as f64 / took_s / 1e6, "M samples/s");
        }
        let what = format!("all tables and indexes, noise of {noise} steps");
        let file = rusqlite::Connection::open(&path)?;
        let all = per_sample(&file, "SELECT 1.0 * page_count * page_size FROM pragma_page_count, pragma_page_size")?;
        match goal {
            Some(goal) => table::row(&what, all, "bytes a sample", goal),
            None => table::told(&what, all, "bytes a sample"),
        }
        let chunks = per_sample(&file, "SELECT 1.0 * sum(length(data)) FROM chunk")?;
        table::told("  of these, packed samples", chunks, "bytes a sample");
        let minutes = per_sample(&file, "SELECT 1.0 * sum(length(data)) FROM minute_chunk")?;
        table::told("  of these, packed minutes", minutes, "bytes a sample");
    }
    Ok(())
}

fn per_sample(file: &rusqlite::Connection, sql: &str) -> Result<f64> {
    let bytes: f64 = file.query_row(sql, [], |row| row.get(0))?;
    Ok(bytes / YEAR_S as f64)
}

fn make(path: &Path, noise: i64) -> Result<()> {
    let unfinished = path.with_extension("unfinished");
    let mut writer = Writer::open(&unfinished, Options::default())?;
    let boot = writer.begin_boot("bench", BootKind::Import)?;
    let reading = WallReading { mono: MonoMs(0), utc: UtcMs(END_MS - YEAR_MS), trust: Trust::Synchronised };
    writer.clock_fix(boot, reading, "bench")?;
    let series = writer.series(&device_spec())?;
    let mut source = Source::new(noise);
    for second in 0..YEAR_S {
        let at = Moment { boot, mono: MonoMs(second * 1000) };
        writer.append_values(series, at, &source.at(second))?;
        if second % BATCH == BATCH - 1 {
            writer.commit()?;
        }
    }
    writer.close()?;
    std::fs::rename(unfinished, path)?;
    Ok(())
}
