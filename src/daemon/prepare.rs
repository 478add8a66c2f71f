//! What must be there before the first sample: the folder, the store, the boot, and each bank's reckoning taken up again.

use std::collections::HashMap;
use std::fs::File;
use std::path::{Path, PathBuf};

use tokio::sync::watch;

use super::Error;
use super::bank_line::{BankLine, track_spec};
use super::notices::Note;
use super::reconcile::{Reconciling, reconciled_spec};
use super::survey::Surveying;
use super::take_up::take_up;
use crate::clock::{Clock, Keeper, When};
use crate::config::{Config, Device};
use crate::http::DeviceWatch;
use crate::link::DeviceStatus;
use crate::quantity::{BootNo, UtcMs};
use crate::reckoning::FixKind;
use crate::store::{self, BootKind, Options, Reader, SeriesId, SeriesKind, SeriesSpec, Writer};

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
    /// [`Error::DataDir`], [`Error::InUse`], or [`Error::Copy`] where an unfinished restore cannot be finished.
    pub fn claim(path: &Path) -> Result<DataDir, Error> {
        let fail = |cause| Error::DataDir { path: path.to_owned(), cause };
        std::fs::create_dir_all(path).map_err(fail)?;
        // On a card that cannot be written the lock of an earlier run, or the folder itself, does as well.
        let lock = File::create(path.join("lock"))
            .or_else(|refused| File::open(path.join("lock")).or_else(|_| File::open(path)).map_err(|_| refused))
            .map_err(fail)?;
        match lock.try_lock() {
            Ok(()) => {
                // What a restore had begun when it was cut off goes on before anybody looks for the store.
                store::finish_put_back(&super::store_path(path))?;
                Ok(DataDir { path: path.to_owned(), _lock: lock })
            }
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
    /// The clock fixes of this boot so far.
    pub keeper: Keeper,
    pub lines: Vec<BankLine>,
    pub reconciling: Vec<Reconciling>,
    pub surveying: Vec<Surveying>,
    /// Series of each device by its name.
    pub series: HashMap<String, SeriesId>,
    pub notes: Vec<Note>,
}

/// Opens the store and takes up each bank where it was left. A store that is broken is renamed, and a new one begun.
pub fn prepare(config: &Config, clock: &Clock, store_path: &Path) -> Result<Prepared, Error> {
    match open_or_begin_anew(store_path)
        .map_err(Error::Store)
        .and_then(|writer| take_up_all(config, clock, store_path, writer))
    {
        // In a large file damage may show only where it is read.
        Err(Error::Store(store::Error::Damaged { cause, .. })) => {
            let writer = Writer::open_anew(store_path, Options::default(), &cause)?;
            take_up_all(config, clock, store_path, writer)
        }
        prepared => prepared,
    }
}

/// Opens a store; one that is broken is renamed, and a new one begun.
pub fn open_or_begin_anew(store_path: &Path) -> store::Result<Writer> {
    match Writer::open(store_path, Options::default()) {
        Err(store::Error::Damaged { cause, .. }) => Writer::open_anew(store_path, Options::default(), &cause),
        opened => opened,
    }
}

fn take_up_all(config: &Config, clock: &Clock, store_path: &Path, mut writer: Writer) -> Result<Prepared, Error> {
    let last_utc = writer.last_utc()?;
    let boot = writer.begin_boot(&clock.boot_id(), BootKind::Live)?;
    let wall = clock.wall().doubted_before(last_utc);
    let mut series = HashMap::new();
    for device in &config.devices {
        series.insert(device.spec.name.clone(), writer.series(&device_series(device))?);
    }
    let mut notes = Vec::new();
    let mut lines = Vec::new();
    let mut reconciling = Vec::new();
    let mut surveying = Vec::new();
    let reader = Reader::open(store_path)?;
    for (bank, method) in config.banks.iter().zip(&config.methods) {
        let main = config.devices.iter().find(|device| device.bank == bank.name && device.is_main());
        let main = main.ok_or_else(|| Error::NoMainDevice(bank.name.clone()))?;
        let track = writer.series(&track_spec(&bank.name))?;
        let taken_up = take_up(&writer, &reader, (bank, series[&main.spec.name]), *method, boot, wall)?;
        notes.extend(taken_up.note);
        let line = BankLine::new(taken_up.reckoner, &main.spec.channels, series[&main.spec.name], track)
            .ok_or_else(|| Error::NoMainDevice(bank.name.clone()))?;
        let line = line.going_on(taken_up.since, taken_up.anchored);
        reconciling.push(Reconciling {
            bank: bank.clone(),
            main: series[&main.spec.name],
            reconciled: writer.series(&reconciled_spec(&bank.name))?,
        });
        surveying.push(Surveying::of(config, bank, main.spec.name.clone()));
        lines.push(line.with_last_fix(last_fix(&reader, &bank.name, boot)?));
    }
    for row in reader.take_unreadable() {
        // What cannot be set aside now is met again by the next who reads it.
        let _ = writer.set_aside(&row);
    }
    let keeper = Keeper::new(boot, reader.clock_fixes(boot)?, last_utc, reader.last_utc_before(boot)?);
    Ok(Prepared { writer, boot, keeper, lines, reconciling, surveying, series, notes })
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
        port: device.spec.port.display().to_string(),
        baud: device.spec.baud,
        frame: device.spec.frame.word(),
        quiet_after_s: device.spec.quiet_after_s,
        status,
    }
}

fn last_fix(reader: &Reader, bank: &str, running: BootNo) -> Result<Option<(FixKind, When, String)>, Error> {
    let fixes = reader.fixes(bank, UtcMs(i64::MIN), UtcMs(i64::MAX), 1)?;
    Ok(fixes.into_iter().next().and_then(|stored| {
        let when = When::of(stored.fix.at, stored.utc?, Some(running));
        Some((FixKind::of_word(&stored.fix.kind)?, when, stored.fix.text))
    }))
}
