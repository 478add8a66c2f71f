//! Producing the decade: lived on one thread, reckoned on a second, stored on a third, through the same code as live samples.

use std::ops::Range;
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, channel, sync_channel};

use rustix::time::{ClockId, clock_gettime};
use sim::life::{Hour, Life, Rhythm, START_UTC_S, YEARS, year_begin_s};
use taffrail::clock::{Trust, WallReading};
use taffrail::config::Config;
use taffrail::daemon::{BankLine, device_series, track_spec};
use taffrail::quantity::{BootNo, Moment, MonoMs, Sample, UtcMs};
use taffrail::reckoning::{Reckoner, Start};
use taffrail::store::{BootKind, Options, SeriesId, Writer};

use super::BANK;
use super::reckoned::Reckoned;

pub type Result<T> = std::result::Result<T, Box<dyn std::error::Error>>;

/// Every day of the decade.
pub const ALL_DAYS: Range<i64> = 0..YEARS * 366;
const DAY_S: i64 = 86_400;
/// Hours in one transaction.
const HOURS_PER_COMMIT: usize = 96;
/// Hours that may wait between two threads.
const WAITING: usize = 48;
/// The state is saved this often, ms of samples: nothing goes on from it.
const SAVE_EVERY_MS: i64 = 30 * 86_400_000;

/// Processor time of each part, s.
#[derive(Debug, Clone, Copy)]
pub struct Spent {
    /// Living.
    pub living_s: f64,
    /// Reckoning.
    pub reckoning_s: f64,
    /// Storing.
    pub storing_s: f64,
}

/// The configuration of the bank.
pub fn configuration() -> Result<Config> {
    Config::parse(include_str!("aboard.toml"), Path::new(""))
        .map_err(|problems| problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ").into())
}

/// Lives from a seed and stores what the devices say in these days of the life; gives the processor time that it took.
pub fn produce(store_path: &Path, config: &Config, seed: u64, rhythm: Rhythm, days: Range<i64>) -> Result<Spent> {
    let mut writer = Writer::open(store_path, Options::default())?;
    let boot = writer.begin_boot("decade", BootKind::Import)?;
    let start = WallReading { mono: MonoMs(0), utc: utc(0), trust: Trust::Synchronised };
    writer.clock_fix(boot, start, "decade")?;
    let [main, branches] = &config.devices[..] else { return Err("two devices are configured".into()) };
    let bank = config.bank(BANK).ok_or("the bank is configured")?;
    let (main_id, branches_id) = (writer.series(&device_series(main))?, writer.series(&device_series(branches))?);
    let track = writer.series(&track_spec(BANK))?;
    let reckoner = Reckoner::begin(config.method(BANK), bank.clone(), Start::Unknown);
    let line = BankLine::new(reckoner, &main.spec.channels, main_id, track).ok_or("voltage and current are there")?;
    let line = line.saving_every(Some(SAVE_EVERY_MS));

    let (lived, hours) = sync_channel::<Hour>(WAITING);
    let (reckoned, records) = sync_channel::<(Hour, Reckoned)>(WAITING);
    let (empty, spent) = channel::<Hour>();
    let living = std::thread::spawn(move || live(seed, rhythm, days, &lived, &spent));
    let reckoning = std::thread::spawn(move || reckon(line, (boot, main_id), &hours, &reckoned));
    let begun_s = thread_s();
    store(&mut writer, boot, [main_id, branches_id], &records, |hour| drop(empty.send(hour)))?;
    writer.close()?;
    let storing_s = thread_s() - begun_s;
    let reckoning_s = reckoning.join().map_err(|_| "the reckoning broke off")??;
    let living_s = living.join().map_err(|_| "the simulated life broke off")?;
    Ok(Spent { living_s, reckoning_s, storing_s })
}

fn live(seed: u64, rhythm: Rhythm, days: Range<i64>, lived: &SyncSender<Hour>, spent: &Receiver<Hour>) -> f64 {
    let mut life = Life::new(seed, rhythm);
    loop {
        let mut hour = spent.try_recv().unwrap_or_default();
        let day = life.now().t_s / DAY_S;
        if day >= days.end || !life.live_hour(&mut hour) || (day >= days.start && lived.send(hour).is_err()) {
            return thread_s();
        }
    }
}

/// Has the bank's line take each sample of the main device, and passes on what came of it.
fn reckon(
    mut line: BankLine,
    (boot, main): (BootNo, SeriesId),
    hours: &Receiver<Hour>,
    reckoned: &SyncSender<(Hour, Reckoned)>,
) -> taffrail::store::Result<f64> {
    let mut sample = Sample { at: at(boot, 0), values: Vec::new() };
    for hour in hours {
        let mut made = Reckoned::beside(main);
        for (t_s, values) in hour.main_s.iter().zip(&hour.main) {
            sample.at = at(boot, *t_s);
            sample.values.clear();
            sample.values.extend(values.iter().map(|value| Some(*value)));
            line.take(&sample, utc(*t_s), &mut made)?;
        }
        if reckoned.send((hour, made)).is_err() {
            break;
        }
    }
    Ok(thread_s())
}

/// Stores what the devices said and what came of it.
fn store(
    writer: &mut Writer,
    boot: BootNo,
    [main, branches]: [SeriesId; 2],
    records: &Receiver<(Hour, Reckoned)>,
    mut done: impl FnMut(Hour),
) -> Result<()> {
    for (number, (hour, made)) in records.iter().enumerate() {
        for (t_s, values) in hour.main_s.iter().zip(&hour.main) {
            writer.append_values(main, at(boot, *t_s), &values.map(Some))?;
        }
        for (t_s, values) in hour.branches_s.iter().zip(&hour.branches) {
            writer.append_values(branches, at(boot, *t_s), &values.map(Some))?;
        }
        made.store(writer)?;
        done(hour);
        if number % HOURS_PER_COMMIT == HOURS_PER_COMMIT - 1 {
            writer.commit()?;
        }
    }
    Ok(())
}

fn at(boot: BootNo, t_s: i64) -> Moment {
    Moment { boot, mono: MonoMs(1000 * t_s) }
}

/// UTC of a moment of the life.
pub fn utc(t_s: i64) -> UtcMs {
    UtcMs(1000 * (START_UTC_S + t_s))
}

/// A moment of the life of a time.
pub fn life_s(utc: UtcMs) -> i64 {
    utc.0 / 1000 - START_UTC_S
}

/// The end of the decade.
pub fn end() -> UtcMs {
    utc(year_begin_s(YEARS) + 1)
}

/// Processor time of this thread, s: other programs on the machine do not count.
fn thread_s() -> f64 {
    let used = clock_gettime(ClockId::ThreadCPUTime);
    used.tv_sec as f64 + used.tv_nsec as f64 / 1e9
}
