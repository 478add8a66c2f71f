//! Producing the decade: lived on one thread, reckoned on a second, stored on a third, through the same code as live samples.

use std::ops::Range;
use std::path::Path;
use std::sync::mpsc::{Receiver, SyncSender, channel, sync_channel};

use rustix::time::{ClockId, clock_gettime};
use sim::life::{CELLS, Hour, Life, Rhythm, START_UTC_S, TEST, YEARS, year_begin_s};
use taffrail::clock::{Trust, WallReading};
use taffrail::config::Config;
use taffrail::daemon::{BankLine, device_series, start_test, track_spec};
use taffrail::http::TestWish;
use taffrail::quantity::{BootNo, Moment, MonoMs, Sample, UtcMs};
use taffrail::reckoning::{Reckoner, Start};
use taffrail::store::{BootKind, Error, Options, SeriesId, Writer};

use super::BANK;
use super::found::{survey, surveying};
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

/// What it took, and what came of it beside the store.
#[derive(Debug, Clone)]
pub struct Produced {
    /// Processor time of each part.
    pub spent: Spent,
    /// Why a capacity test was not begun; the bank is discharged all the same, without guidance.
    pub refused: Vec<String>,
}

/// Processor time of each part, s.
#[derive(Debug, Clone, Copy)]
pub struct Spent {
    /// Living.
    pub living_s: f64,
    /// Reckoning.
    pub reckoning_s: f64,
    /// Storing.
    pub storing_s: f64,
    /// Looking at what is stored before each capacity test.
    pub looking_s: f64,
}

/// The configuration of the bank.
pub fn configuration() -> Result<Config> {
    Config::parse(include_str!("aboard.toml"), Path::new(""))
        .map_err(|problems| problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ").into())
}

/// Lives from a seed and stores what the devices say in these days of the life; as a skipper who has it guide the capacity tests.
pub fn produce(store_path: &Path, config: &Config, seed: u64, rhythm: Rhythm, days: Range<i64>) -> Result<Produced> {
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

    let tests_s: Vec<i64> = Life::new(seed, rhythm).plan().tests_s().collect();
    let mut tests_s = tests_s.into_iter().filter(|test_s| days.contains(&(test_s / DAY_S))).peekable();
    let (lived, hours) = sync_channel::<Hour>(WAITING);
    let (reckoned, records) = sync_channel::<(Hour, Reckoned)>(WAITING);
    let (empty, spent) = channel::<Hour>();
    let days_lived = days.clone();
    let living = std::thread::spawn(move || live(seed, rhythm, days_lived, &lived, &spent));
    let reckoning = std::thread::spawn(move || reckon(line, (boot, main_id), &hours, &reckoned));
    let begun_s = thread_s();
    let (mut looking_s, mut refused) = (0.0, Vec::new());
    for (number, (hour, made)) in records.iter().enumerate() {
        if tests_s.next_if(|test_s| hour.main_s.first().is_some_and(|t_s| t_s > test_s)).is_some() {
            let from_s = thread_s();
            refused.extend(ask_for_test(store_path, config, &mut writer)?);
            looking_s += thread_s() - from_s;
        }
        store(&mut writer, boot, [main_id, branches_id], &hour, made)?;
        // Whoever lives may be through with it.
        let _ = empty.send(hour);
        if number % HOURS_PER_COMMIT == HOURS_PER_COMMIT - 1 {
            writer.commit()?;
        }
    }
    writer.close()?;
    let storing_s = thread_s() - begun_s - looking_s;
    let reckoning_s = reckoning.join().map_err(|_| "the reckoning broke off")??;
    let living_s = living.join().map_err(|_| "the simulated life broke off")?;
    Ok(Produced { spent: Spent { living_s, reckoning_s, storing_s, looking_s }, refused })
}

/// Asks for a capacity test as the owner would in the minute before the load is switched on; it goes by what is stored. Gives the words of a refusal.
fn ask_for_test(store_path: &Path, config: &Config, writer: &mut Writer) -> Result<Option<String>> {
    writer.commit()?;
    survey(store_path, config, writer)?;
    let (load_a, cell_v) = TEST;
    let wish = TestWish { load_a, cut_off_v: Some(cell_v * CELLS), anyway: false };
    match start_test(store_path, &surveying(config)?, &wish, writer) {
        Ok(_) => Ok(None),
        Err(Error::Passage(words)) => Ok(Some(words)),
        Err(other) => Err(other.into()),
    }
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

/// Stores what the devices said in an hour and what came of it.
fn store(
    writer: &mut Writer,
    boot: BootNo,
    [main, branches]: [SeriesId; 2],
    hour: &Hour,
    made: Reckoned,
) -> taffrail::store::Result<()> {
    for (t_s, values) in hour.main_s.iter().zip(&hour.main) {
        writer.append_values(main, at(boot, *t_s), &values.map(Some))?;
    }
    for (t_s, values) in hour.branches_s.iter().zip(&hour.branches) {
        writer.append_values(branches, at(boot, *t_s), &values.map(Some))?;
    }
    made.store(writer)
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
