//! `taffrail import`: a recorded trace into the store, as if it had been read live.

use std::io::Write;
use std::path::PathBuf;

use tokio_util::sync::CancellationToken;

use super::Failure;
use super::reckon::load_bank;
use super::survey::look_at;
use super::trace::Trace;
use crate::clock::{Trust, WallReading};
use crate::config::Config;
use crate::daemon::{
    BankLine, DataDir, Reconciling, SAVE_PAST_EVERY_MS, catch_up, device_series, reconciled_spec, track_spec,
};
use crate::quantity::{BootNo, Channel, Moment, MonoMs, Reading, Sample, UtcMs};
use crate::reckoning::{Reckoner, Since, Start};
use crate::store::{BootKind, Options, SeriesKind, SeriesSpec, StoredAnchor, Writer};

/// Arguments of `import`.
#[derive(Debug, clap::Args)]
pub struct ImportArguments {
    /// Configuration file with the bank's description and the data folder
    #[arg(long, value_name = "FILE")]
    config: PathBuf,
    /// Name of the bank in the configuration
    #[arg(long, value_name = "NAME")]
    bank: String,
    /// When the trace's `t_s = 0` was, such as 2026-05-01T00:00:00Z
    #[arg(long, value_name = "TIME")]
    start: jiff::Timestamp,
    /// What is known of the charge at the first row: full, unknown, or a ratio such as 0.80
    #[arg(long = "charge", default_value = "unknown")]
    charge: Start,
    /// CSV with the columns `t_s,voltage_v,current_a,temperature_c`; others are ignored
    #[arg(value_name = "TRACE.csv")]
    trace: PathBuf,
}

/// Rows in one transaction: a full hour of a device at 1 Hz and then some.
const ROWS_PER_COMMIT: u64 = 20_000;

/// Runs the command.
pub fn import(arguments: &ImportArguments) -> Result<(), Failure> {
    let (config, bank) = load_bank(&arguments.config, &arguments.bank)?;
    // The whole trace is looked at before anything is stored: a mistake in its last row leaves the store as it was.
    let rows = count_rows(&arguments.trace)?;
    let data_dir = DataDir::claim(&config.data_dir).map_err(|error| Failure::daemon(&error))?;
    let mut writer =
        Writer::open(&data_dir.store_path(), Options::default()).map_err(|error| Failure::daemon(&error))?;
    let path = data_dir.store_path();
    let described = bank.clone();
    let stored = store_trace(arguments, &config, bank, &mut writer, rows)
        .and_then(|work| Ok(catch_up(&path, &work, &mut writer, &CancellationToken::new())?));
    let stored = stored.map_err(|error| match error {
        Interrupted::Input(failure) => failure,
        Interrupted::Store(error) => Failure::daemon(&error),
    });
    let stored = stored.and_then(|()| look_at(&config, &described, &path, &mut writer).map(drop));
    for found in writer.take_found() {
        let _ = writeln!(std::io::stderr(), "\r{}", found.text());
    }
    let report = stored.and_then(|()| writer.close().map_err(|error| Failure::daemon(&error)))?;
    let known = if report.refused > 0 {
        format!("; {} samples were there already and were left as they are", report.refused)
    } else {
        String::new()
    };
    let _ = writeln!(std::io::stderr(), "\rread {rows} rows of {}{known}", arguments.trace.display());
    Ok(())
}

fn count_rows(path: &std::path::Path) -> Result<u64, Failure> {
    let mut trace = Trace::open(path).map_err(Failure::input)?;
    let mut rows = 0;
    while trace.next_reading().map_err(Failure::input)?.is_some() {
        rows += 1;
    }
    if rows == 0 {
        return Err(Failure::input(format!("{}: has no rows, expected at least one below the header", path.display())));
    }
    Ok(rows)
}

enum Interrupted {
    Input(Failure),
    Store(crate::store::Error),
}

impl From<crate::store::Error> for Interrupted {
    fn from(error: crate::store::Error) -> Interrupted {
        Interrupted::Store(error)
    }
}

fn store_trace(
    arguments: &ImportArguments,
    config: &Config,
    bank: crate::battery::Bank,
    writer: &mut Writer,
    rows: u64,
) -> Result<Reconciling, Interrupted> {
    let start = UtcMs(arguments.start.as_millisecond());
    // The same trace at the same time is the same boot: brought in twice, it is stored once.
    let boot = writer.begin_boot(&format!("import {} {}", bank.name, arguments.start), BootKind::Import)?;
    // Somebody said when it was.
    writer.clock_fix(boot, WallReading { mono: MonoMs(0), utc: start, trust: Trust::Synchronised }, "import")?;
    let spec = main_series(config, &bank.name);
    let series = writer.series(&spec)?;
    let track = writer.series(&track_spec(&bank.name))?;
    let newest = writer.load_checkpoint(&bank.name)?;
    let name = bank.name.clone();
    let work = Reconciling { bank: bank.clone(), main: series, reconciled: writer.series(&reconciled_spec(&name))? };
    let reckoner = Reckoner::begin(config.method(&name), bank, arguments.charge);
    let line = BankLine::new(reckoner, &spec.channels, series, track)
        .ok_or_else(|| Interrupted::Input(Failure::input(format!("bank \"{name}\" has no voltage_v and current_a"))))?;
    // The bank's present state stays that of its latest samples, wherever older ones are brought in; but what an earlier
    // start on this trace has left goes on.
    let state_stays = newest.is_some_and(|saved| {
        let timeline = writer.timeline();
        saved.at.boot != boot && timeline.is_ok_and(|t| t.utc(saved.at).is_some_and(|placed| placed.utc > start))
    });
    let side = state_stays.then_some(boot);
    let anchored = |stored: &StoredAnchor| stored.anchor.side == side && stored.anchor.at.boot == boot;
    let anchored = writer.anchors(&name)?.iter().any(anchored);
    let line = line.going_on(Since::default(), anchored);
    let mut line = match side {
        Some(boot) => line.saving_every(None).beside(boot),
        None => line.saving_every(Some(SAVE_PAST_EVERY_MS)),
    };
    let mut trace = Trace::open(&arguments.trace).map_err(|error| Interrupted::Input(Failure::input(error)))?;
    let mut done = 0_u64;
    while let Some(reading) = trace.next_reading().map_err(|error| Interrupted::Input(Failure::input(error)))? {
        let sample = sample_of(boot, &reading, &spec.channels);
        let utc = UtcMs(start.0 + sample.at.mono.0);
        line.take(&sample, utc, writer)?;
        done += 1;
        if done.is_multiple_of(ROWS_PER_COMMIT) {
            writer.commit()?;
            let _ = write!(std::io::stderr(), "\r{} %", 100 * done / rows);
        }
    }
    line.save(writer)?;
    writer.commit()?;
    Ok(work)
}

/// The series of the bank's main device, with the trace's three channels among its channels.
pub fn main_series(config: &Config, bank: &str) -> SeriesSpec {
    let usual = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE];
    let channel = |name: &str| Channel::try_new(name).expect("fixed names are channel names");
    let main = config.devices.iter().find(|device| device.bank == bank && device.is_main());
    let mut spec = main.map_or_else(
        || SeriesSpec {
            name: format!("{bank}-trace"),
            kind: SeriesKind::Device,
            bank: bank.to_owned(),
            channels: Vec::new(),
            gap_ms: TRACE_GAP_MS,
        },
        device_series,
    );
    for name in usual {
        if !spec.channels.iter().any(|c| c.name() == name) {
            spec.channels.push(channel(name));
        }
    }
    spec
}

/// Rows of a trace further apart than this have a gap between them, ms (assumed).
const TRACE_GAP_MS: i64 = 900_000;

#[expect(clippy::cast_possible_truncation, reason = "a trace of 285 million years would be needed")]
fn sample_of(boot: BootNo, reading: &Reading, channels: &[Channel]) -> Sample {
    let values = channels
        .iter()
        .map(|channel| match channel.name() {
            Channel::VOLTAGE => Some(reading.voltage_v),
            Channel::CURRENT => Some(reading.current_a),
            Channel::TEMPERATURE => reading.temperature_c,
            _ => None,
        })
        .collect();
    Sample { at: Moment { boot, mono: MonoMs((reading.t_s * 1000.0).round() as i64) }, values }
}
