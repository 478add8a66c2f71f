//! The boat's past: weeks in seconds, through the same code as live samples.

use std::path::Path;

use sim::boat::Boat;
use tokio_util::sync::CancellationToken;

use super::super::Failure;
use super::say;
use crate::clock::{Trust, WallReading};
use crate::config::Config;
use crate::daemon::{BankLine, Reconciling, SAVE_PAST_EVERY_MS, catch_up, device_series, reconciled_spec, track_spec};
use crate::quantity::{BootNo, Moment, MonoMs, Sample, UtcMs};
use crate::reckoning::{Reckoner, Start};
use crate::store::{BootKind, Options, Writer};

/// Seconds in one transaction: a quarter of a day.
const SECONDS_PER_COMMIT: u32 = 21_600;

/// A stretch of simulated time.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    /// Where it begins.
    pub from: UtcMs,
    /// How long it is, s.
    pub seconds: u32,
}

/// Sails the boat through the span, second by second, and stores what its devices say.
pub fn store(config: &Config, store_path: &Path, boat: &mut Boat, span: Span) -> Result<(), Failure> {
    run(config, store_path, boat, span).map_err(|error| Failure::daemon(&error))
}

fn run(config: &Config, store_path: &Path, boat: &mut Boat, span: Span) -> crate::store::Result<()> {
    let mut writer = Writer::open(store_path, Options::default())?;
    let boot = writer.begin_boot(&format!("demo {}", span.from.0), BootKind::Import)?;
    let start = WallReading { mono: MonoMs(0), utc: span.from, trust: Trust::Synchronised };
    writer.clock_fix(boot, start, "demo")?;
    let mut devices = Vec::new();
    let mut works = Vec::new();
    for device in &config.devices {
        let series = writer.series(&device_series(device))?;
        let line = match config.bank(&device.bank).filter(|_| device.is_main()) {
            Some(bank) => {
                let track = writer.series(&track_spec(&device.bank))?;
                let reconciled = writer.series(&reconciled_spec(&device.bank))?;
                works.push(Reconciling { bank: bank.clone(), main: series, reconciled });
                let reckoner = Reckoner::begin(config.method(&device.bank), bank.clone(), Start::Unknown);
                BankLine::new(reckoner, &device.spec.channels, series, track)
            }
            None => None,
        };
        devices.push((series, line.map(|line| line.saving_every(Some(SAVE_PAST_EVERY_MS)))));
    }
    let mut sample = Sample { at: Moment { boot, mono: MonoMs(0) }, values: Vec::new() };
    let mut values = Vec::new();
    for second in 1..=span.seconds {
        boat.advance(1.0);
        sample.at = at(boot, second);
        for (index, (series, line)) in devices.iter_mut().enumerate() {
            boat.read(index, &mut values);
            sample.values.clear();
            sample.values.extend(values.iter().copied().map(Some));
            match line {
                Some(line) => drop(line.take(&sample, UtcMs(span.from.0 + sample.at.mono.0), &mut writer)?),
                None => drop(writer.append(*series, &sample)?),
            }
        }
        if second % SECONDS_PER_COMMIT == 0 {
            writer.commit()?;
            if second % (8 * SECONDS_PER_COMMIT) == 0 {
                say(&format!("  {} % of the past is stored", 100 * u64::from(second) / u64::from(span.seconds)));
            }
        }
    }
    for line in devices.iter_mut().filter_map(|(_, line)| line.as_mut()) {
        line.save(&mut writer)?;
    }
    writer.commit()?;
    for work in &works {
        catch_up(store_path, work, &mut writer, &CancellationToken::new())?;
    }
    writer.close()?;
    Ok(())
}

fn at(boot: BootNo, second: u32) -> Moment {
    Moment { boot, mono: MonoMs(1000 * i64::from(second)) }
}
