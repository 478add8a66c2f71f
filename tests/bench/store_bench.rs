//! Prints what the store costs: `cargo run --release --example store_bench [DIRECTORY] [DAYS]`.
//!
//! Three channels at 1 Hz, voltage to 1 mV, current to 10 mA, temperature to 0.1 °C, noise of one or two steps over a
//! slow daily swing: a made-up house bank at anchor. The file stays in the directory if one is named. Pacing and
//! timing go by the same monotonic clock as the daemon's, so figures below a millisecond are means of many runs.
#![expect(clippy::print_stdout, reason = "a table for people is all that it makes")]

use std::error::Error;
use std::path::Path;

use taffrail::clock::{Clock, Trust, WallReading};
use taffrail::quantity::{BootNo, Channel, Moment, MonoMs, UtcMs};
use taffrail::store::{BootKind, Checkpoint, HistoryQuery, Options, Reader, SeriesId, SeriesKind, SeriesSpec, Writer};

/// 2026-12-01T00:00:00Z.
const START: i64 = 1_796_083_200_000;
const HOUR_MS: i64 = 3_600_000;
const DAY_MS: i64 = 24 * HOUR_MS;
/// Samples between two commits of an import.
const BATCH: i64 = 200_000;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args().skip(1);
    let named = arguments.next();
    let days: i64 = arguments.next().and_then(|days| days.parse().ok()).unwrap_or(365);
    let scratch = tempfile::tempdir()?;
    let directory = named.as_deref().map_or(scratch.path(), Path::new);
    let clock = Clock::system();
    for noise in [1, 2] {
        let path = directory.join(format!("bench-{noise}.sqlite"));
        if path.exists() {
            println!("{} is there already; remove it first", path.display());
            return Ok(());
        }
        println!("\n{days} days at 1 Hz, noise of {noise} steps");
        let series = write(&path, &clock, days, noise)?;
        read(&path, &clock, days, series)?;
        live(&directory.join(format!("live-{noise}.sqlite")), &clock, noise)?;
    }
    Ok(())
}

fn open(path: &Path) -> Result<(Writer, BootNo, SeriesId), Box<dyn Error>> {
    let mut writer = Writer::open(path, Options::default())?;
    let boot = writer.begin_boot("bench", BootKind::Import)?;
    let reading = WallReading { mono: MonoMs(0), utc: UtcMs(START), trust: Trust::Synchronised };
    writer.clock_fix(boot, reading, "bench")?;
    let channels = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE];
    let series = writer.series(&SeriesSpec {
        name: "shunt".to_owned(),
        kind: SeriesKind::Device,
        bank: "house".to_owned(),
        channels: channels.iter().filter_map(|name| Channel::try_new(name).ok()).collect(),
        gap_ms: 10_000,
    })?;
    Ok((writer, boot, series))
}

fn write(path: &Path, clock: &Clock, days: i64, noise: i64) -> Result<SeriesId, Box<dyn Error>> {
    let (mut writer, boot, series) = open(path)?;
    let mut source = Source::new(noise);
    let samples = days * 86_400;
    let made = seconds(clock, || {
        let mut source = Source::new(noise);
        let sum: f64 = (0..samples).map(|second| source.at(second)[0].unwrap_or(0.0)).sum();
        assert!(sum > 0.0, "the bank has a voltage");
    });
    let begun = clock.mono();
    for second in 0..samples {
        let mono = MonoMs(second * 1000);
        writer.append_values(series, Moment { boot, mono }, &source.at(second))?;
        if second % BATCH == BATCH - 1 {
            writer.commit()?;
        }
    }
    writer.close()?;
    let took = clock.mono().seconds_since(begun) - made;
    println!("  import                 {:>9.2} M samples/s", samples as f64 / took / 1e6);
    sizes(path, samples);
    Ok(series)
}

fn sizes(path: &Path, samples: i64) {
    let file = rusqlite::Connection::open(path).expect("it was just written");
    let number =
        |sql: &str| -> f64 { file.query_row(sql, [], |row| row.get::<_, Option<f64>>(0)).expect(sql).unwrap_or(0.0) };
    let per = |bytes: f64| bytes / samples as f64;
    let all = number("SELECT 1.0 * page_count * page_size FROM pragma_page_count, pragma_page_size");
    println!("  file, all tables       {:>9.3} bytes a sample", per(all));
    println!("  payload of chunks      {:>9.3}", per(number("SELECT 1.0 * sum(length(data)) FROM chunk")));
    println!("  payload of minutes     {:>9.3}", per(number("SELECT 1.0 * sum(length(data)) FROM minute_chunk")));
    println!("  hour rows              {:>9.0}", number("SELECT 1.0 * count(*) FROM hour_summary"));
}

fn read(path: &Path, clock: &Clock, days: i64, series: SeriesId) -> Result<(), Box<dyn Error>> {
    let reader = Reader::open(path)?;
    let to = START + days * DAY_MS - 1_234_567;
    for (name, span) in [
        ("hour", HOUR_MS),
        ("day", DAY_MS),
        ("week", 7 * DAY_MS),
        ("3 weeks", 21 * DAY_MS),
        ("year", 365 * DAY_MS),
        ("15 years", 15 * 365 * DAY_MS),
    ] {
        let query = HistoryQuery {
            series,
            channels: [Channel::VOLTAGE, Channel::CURRENT, "power_w"].map(str::to_owned).to_vec(),
            from: UtcMs(to - span),
            to: UtcMs(to),
            points: 1500,
        };
        let first = reader.history(&query)?;
        const RUNS: i32 = 20;
        let mut failed = None;
        let took = seconds(clock, || {
            for _ in 0..RUNS {
                failed = reader.history(&query).err().or(failed.take());
            }
        });
        failed.map_or(Ok(()), Err)?;
        println!(
            "  chart of {name:<13} {:>9.2} ms, {} rows of {} s",
            took / f64::from(RUNS) * 1000.0,
            first.time_ms.len(),
            first.step_ms / 1000
        );
    }
    let begun = clock.mono();
    let sums = reader.sums(series, UtcMs(START + 1_234_567), UtcMs(to))?;
    println!(
        "  sums over all          {:>9.2} ms ({:.1} Ah in, {:.1} Ah out)",
        clock.mono().seconds_since(begun) * 1000.0,
        sums.charge_in_ah,
        sums.charge_out_ah
    );
    let mut count = 0;
    let mut failed = None;
    let took = seconds(clock, || match reader.samples(series, UtcMs(START), UtcMs(to)) {
        Ok(samples) => {
            for sample in samples {
                failed = sample.err().or(failed.take());
                count += 1;
            }
        }
        Err(error) => failed = Some(error),
    });
    failed.map_or(Ok(()), Err)?;
    println!("  samples one by one     {:>9.2} M samples/s", f64::from(count) / took / 1e6);
    let begun = clock.mono();
    Writer::open(path, Options::default())?;
    println!("  opening                {:>9.0} ms", clock.mono().seconds_since(begun) * 1000.0);
    Ok(())
}

/// Commits as the daemon does: six samples and a checkpoint of 2,000 bytes at a time, over two hours of boat time.
fn live(path: &Path, clock: &Clock, noise: i64) -> Result<(), Box<dyn Error>> {
    let (mut writer, boot, series) = open(path)?;
    let mut source = Source::new(noise);
    writer.commit()?;
    let written = bytes_written();
    let mut slowest = 0.0_f64;
    let mut total = 0.0;
    const COMMITS: i64 = 1200;
    for commit in 0..COMMITS {
        for second in commit * 6..commit * 6 + 6 {
            let mono = MonoMs(second * 1000);
            writer.append_values(series, Moment { boot, mono }, &source.at(second))?;
        }
        writer.checkpoint(Checkpoint {
            bank: "house".to_owned(),
            at: Moment { boot, mono: MonoMs(commit * 6000 + 5000) },
            version: 1,
            state: format!("{{\"state\":\"{}\"}}", "0.123456789 ".repeat(166)),
        })?;
        let mut failed = None;
        let took = seconds(clock, || failed = writer.commit().err());
        failed.map_or(Ok(()), Err)?;
        total += took;
        slowest = slowest.max(took);
    }
    println!(
        "  commit of 6 samples    {:>9.2} ms, the slowest {:.0} ms",
        total / COMMITS as f64 * 1000.0,
        slowest * 1000.0
    );
    let bytes = bytes_written() - written;
    println!(
        "  written                {:>9.0} bytes a commit, {:.0} MB a day at a commit each 6 s (the process' own \
         writes; the file system's journal comes on top)",
        bytes / COMMITS as f64,
        bytes / COMMITS as f64 * 14_400.0 / 1e6
    );
    Ok(())
}

/// Bytes that this process has caused to be written to a block device, by Linux' own count (proc(5), io); 0 elsewhere
/// and on file systems in memory.
fn bytes_written() -> f64 {
    let io = std::fs::read_to_string("/proc/self/io").unwrap_or_default();
    let line = io.lines().find_map(|line| line.strip_prefix("write_bytes: "));
    line.and_then(|bytes| bytes.parse().ok()).unwrap_or(0.0)
}

fn seconds(clock: &Clock, work: impl FnOnce()) -> f64 {
    let begun = clock.mono();
    work();
    clock.mono().seconds_since(begun)
}

/// A bank at anchor: daily swing, noise of some steps by a small generator of its own (Knuth's multiplier, MMIX).
struct Source {
    state: u64,
    noise: i64,
}

impl Source {
    fn new(noise: i64) -> Source {
        Source { state: 7, noise }
    }

    /// Sum of four uniform draws, scaled so that its standard deviation is about `noise` steps.
    fn noise(&mut self) -> i64 {
        let mut sum = 0.0;
        for _ in 0..4 {
            self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            sum += (self.state >> 33) as f64 / f64::from(1_u32 << 31) - 0.5;
        }
        // Four uniform draws of width 1 have a standard deviation of 0.577.
        steps(sum / 0.577 * self.noise as f64)
    }

    fn at(&mut self, second: i64) -> [Option<f64>; 3] {
        let day = (second as f64 / 86_400.0 * std::f64::consts::TAU).sin();
        let millivolts = steps(52_000.0 + 1500.0 * day) + self.noise();
        let centiamperes = steps(1200.0 * day - 300.0) + self.noise();
        let tenths = steps(200.0 + 40.0 * day) + self.noise();
        [Some(millivolts as f64 / 1000.0), Some(centiamperes as f64 / 100.0), Some(tenths as f64 / 10.0)]
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a few thousand steps at most")]
fn steps(value: f64) -> i64 {
    value.round() as i64
}
