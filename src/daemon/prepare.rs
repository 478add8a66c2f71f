//! What must be there before the first sample: the folder, the store, the boot, and each bank's reckoning taken up again.

use std::collections::HashMap;
use std::fs::File;
use std::path::{Path, PathBuf};

use tokio::sync::watch;

use super::Error;
use super::bank_line::{BankLine, track_spec};
use super::notices::Note;
use crate::battery::Bank;
use crate::clock::{Clock, Trust, WallReading};
use crate::config::{Config, Device};
use crate::http::DeviceWatch;
use crate::link::DeviceStatus;
use crate::quantity::{BootNo, UtcMs};
use crate::reckoning::{FixKind, Method, Reckoner, Start, TimeOff};
use crate::store::{BootKind, Options, Reader, SeriesId, SeriesKind, SeriesSpec, Writer};

/// A data folder that this process alone works on.
#[derive(Debug)]
pub struct DataDir {
    path: PathBuf,
    /// Locked for as long as it is open.
    _lock: File,
}

impl DataDir {
    /// Makes the folder if need be and claims it.
    ///
    /// # Errors
    /// [`Error::DataDir`] or [`Error::InUse`].
    pub fn claim(path: &Path) -> Result<DataDir, Error> {
        let fail = |cause| Error::DataDir { path: path.to_owned(), cause };
        std::fs::create_dir_all(path).map_err(fail)?;
        let lock = File::create(path.join("lock")).map_err(fail)?;
        match lock.try_lock() {
            Ok(()) => Ok(DataDir { path: path.to_owned(), _lock: lock }),
            Err(std::fs::TryLockError::WouldBlock) => Err(Error::InUse(path.to_owned())),
            Err(std::fs::TryLockError::Error(cause)) => Err(fail(cause)),
        }
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The store's file.
    #[must_use]
    pub fn store_path(&self) -> PathBuf {
        super::store_path(&self.path)
    }
}

/// Everything that the daemon starts with.
pub struct Prepared {
    pub writer: Writer,
    pub boot: BootNo,
    pub last_utc: Option<UtcMs>,
    pub lines: Vec<BankLine>,
    /// Series of each device by its name.
    pub series: HashMap<String, SeriesId>,
    pub notes: Vec<Note>,
}

/// Opens the store and takes up each bank where it was left.
pub fn prepare(config: &Config, clock: &Clock, store_path: &Path) -> Result<Prepared, Error> {
    let mut writer = Writer::open(store_path, Options::default())?;
    let last_utc = writer.last_utc()?;
    let boot = writer.begin_boot(&clock.boot_id(), BootKind::Live)?;
    let wall = clock.wall().doubted_before(last_utc);
    let mut series = HashMap::new();
    for device in &config.devices {
        series.insert(device.spec.name.clone(), writer.series(&device_series(device))?);
    }
    let mut notes = Vec::new();
    let mut lines = Vec::new();
    for bank in &config.banks {
        let main = config.devices.iter().find(|device| device.bank == bank.name && device.is_main());
        let main = main.ok_or_else(|| Error::NoMainDevice(bank.name.clone()))?;
        let track = writer.series(&track_spec(&bank.name))?;
        let (reckoner, note) = take_up(&writer, bank, boot, wall)?;
        notes.extend(note);
        let line = BankLine::new(reckoner, &main.spec.channels, series[&main.spec.name], track)
            .ok_or_else(|| Error::NoMainDevice(bank.name.clone()))?;
        lines.push(line.with_last_fix(last_fix(store_path, &bank.name)?));
    }
    Ok(Prepared { writer, boot, last_utc, lines, series, notes })
}

/// The series that a device's samples are stored in.
#[must_use]
pub fn device_series(device: &Device) -> SeriesSpec {
    SeriesSpec {
        name: device.spec.name.clone(),
        kind: SeriesKind::Device,
        bank: device.bank.clone(),
        channels: device.spec.channels.clone(),
        gap_ms: GAP_MS,
    }
}

/// Samples of a device further apart than this have a gap between them, ms: ten times the usual rhythm (assumed).
const GAP_MS: i64 = 10_000;

/// What the page needs to know of a device.
pub fn device_watch(device: &Device, status: watch::Receiver<DeviceStatus>) -> DeviceWatch {
    DeviceWatch {
        name: device.spec.name.clone(),
        bank: device.bank.clone(),
        channels: device.spec.channels.clone(),
        main: device.is_main(),
        status,
    }
}

/// The bank's reckoning as saved, widened by the time off; or a new one with an unknown charge.
fn take_up(writer: &Writer, bank: &Bank, boot: BootNo, wall: WallReading) -> Result<(Reckoner, Option<Note>), Error> {
    let begin = || Reckoner::begin(Method::Counter, bank.clone(), Start::Unknown);
    let Some(saved) = writer.load_checkpoint(&bank.name)? else {
        let text =
            format!("{}: nothing is known of the charge yet; it is known after the first full charge", bank.title);
        return Ok((begin(), Some(Note::bank(&bank.name, "start-unknown", "caution", text))));
    };
    let off = if saved.at.boot == boot {
        TimeOff::Known { seconds: wall.mono.seconds_since(saved.at.mono).max(0.0) }
    } else {
        time_off(writer, saved.at, wall)?
    };
    match Reckoner::resume(bank.clone(), &saved.state, off) {
        Ok(reckoner) => {
            let text = format!("{}: nobody was watching for {}; the band is wider", bank.title, words_for(off));
            Ok((reckoner, Some(Note::bank(&bank.name, "resumed", "note", text))))
        }
        Err(error) => Ok((begin(), Some(Note::bank(&bank.name, "resume-failed", "warning", error.to_string())))),
    }
}

/// Time between a moment of an earlier boot and now, as far as clocks tell.
fn time_off(writer: &Writer, saved: crate::quantity::Moment, wall: WallReading) -> Result<TimeOff, Error> {
    let placed = writer.timeline()?.utc(saved);
    Ok(match (placed, wall.trust) {
        (Some(placed), Trust::Synchronised) if placed.trusted => {
            TimeOff::Known { seconds: wall.utc.seconds_since(placed.utc).max(0.0) }
        }
        (Some(placed), Trust::Plausible) if placed.trusted => {
            TimeOff::Claimed { seconds: wall.utc.seconds_since(placed.utc).max(0.0) }
        }
        _ => TimeOff::Unknown,
    })
}

fn words_for(off: TimeOff) -> String {
    match off {
        TimeOff::Known { seconds } => duration_words(seconds),
        TimeOff::Claimed { seconds } => format!("{} by a clock that nothing vouches for", duration_words(seconds)),
        TimeOff::Unknown => "an unknown time".to_owned(),
    }
}

fn duration_words(seconds: f64) -> String {
    match seconds {
        s if s < 120.0 => format!("{s:.0} s"),
        s if s < 7200.0 => format!("{:.0} min", s / 60.0),
        s if s < 48.0 * 3600.0 => format!("{:.1} h", s / 3600.0),
        s => format!("{:.1} days", s / 86_400.0),
    }
}

fn last_fix(store_path: &Path, bank: &str) -> Result<Option<(FixKind, UtcMs, String)>, Error> {
    let fixes = Reader::open(store_path)?.fixes(bank, UtcMs(i64::MIN), UtcMs(i64::MAX), 1)?;
    Ok(fixes
        .into_iter()
        .next()
        .and_then(|stored| Some((FixKind::of_word(&stored.fix.kind)?, stored.utc?, stored.fix.text))))
}
