//! A store in memory that stands in while the card cannot be used at the start: full, read-only, or failing.
//!
//! The daemon works on it as on any other, beginning with the saved states of the banks as far as they can be read. Once
//! the card can be written again, it stops, takes in what stood in, and goes on with the store on the card. What stands in
//! outlives the daemon, not a power cut.

use std::fs::{DirBuilder, File};
use std::os::unix::fs::{DirBuilderExt, MetadataExt};
use std::path::{Path, PathBuf};
use std::time::Duration;

use tokio_util::sync::CancellationToken;

use super::Error;
use super::notices::Note;
use super::prepare::{Prepared, open_or_begin_anew, prepare};
use crate::clock::Clock;
use crate::config::Config;
use crate::store::{self, BootKind, Found, Options, Writer};

/// How often to look whether the card can be written again.
const LOOK_EVERY: Duration = Duration::from_secs(30);

/// A folder that is kept in memory on every Linux.
const IN_MEMORY: &str = "/dev/shm";

/// Where a store stands in for that of one data folder.
#[derive(Debug, Clone)]
pub struct StandIn {
    folder: PathBuf,
    real: PathBuf,
}

/// Why the store on the card is not the one in use.
#[derive(Debug, Clone)]
pub struct Away {
    /// In words.
    pub trouble: String,
    /// What stands in.
    pub stand_in: StandIn,
}

/// Prepares on the store of a data folder; or, where the card cannot be used for now, on one that stands in. What stood in
/// before is taken in first.
pub fn prepare_somewhere(config: &Config, clock: &Clock, real: &Path) -> Result<(Prepared, Option<Away>), Error> {
    let stand_in = StandIn::of(real);
    let on_the_card = stand_in.bring_home().map_err(Error::Store).and_then(|brought| {
        let mut prepared = prepare(config, clock, real)?;
        if let Some(Brought { samples, damage }) = brought {
            let text = format!("the store can be written again; {samples} samples that were kept in memory are in it");
            prepared.notes.extend(damage.into_iter().map(|text| Note::daemon("store-damage", "warning", text)));
            prepared.notes.push(Note::daemon("store-writes", "note", text));
        }
        Ok((prepared, None))
    });
    match on_the_card {
        Err(Error::Store(error)) if error.is_transient() => {
            tracing::error!(%error, "the store cannot be used; one in memory stands in");
            let trouble = format!("the store on the card cannot be used ({error}); what comes is kept in memory");
            stand_in.begin()?;
            let mut prepared = prepare(config, clock, &stand_in.store_path())?;
            let text = format!(
                "{trouble} until it can: make room on the card, or check it and how it is mounted. What was recorded before \
                 is not shown meanwhile"
            );
            prepared.notes.push(Note::daemon("store-trouble", "warning", text));
            Ok((prepared, Some(Away { trouble, stand_in })))
        }
        other => other,
    }
}

/// What stood in and is in the store on the card now.
struct Brought {
    samples: u64,
    /// What was damaged in that store, in words.
    damage: Vec<String>,
}

impl StandIn {
    /// That of the store at `real`.
    fn of(real: &Path) -> StandIn {
        let whole = std::path::absolute(real).unwrap_or_else(|_| real.to_owned());
        let number = crc32fast::hash(whole.as_os_str().as_encoded_bytes());
        let memory = Path::new(IN_MEMORY);
        let base = if memory.is_dir() { memory.to_owned() } else { std::env::temp_dir() };
        StandIn { folder: base.join(format!("taffrail-{number:08x}")), real: real.to_owned() }
    }

    /// Its file.
    pub fn store_path(&self) -> PathBuf {
        super::store_path(&self.folder)
    }

    /// Makes it, if it is not there from before, with the saved states of the banks.
    fn begin(&self) -> Result<(), Error> {
        let fail = |cause| Error::DataDir { path: self.folder.clone(), cause };
        if !self.folder.exists() {
            DirBuilder::new().mode(0o700).create(&self.folder).map_err(fail)?;
        }
        // Anybody may make a folder there; only our own is used.
        let owner = |path: &Path| std::fs::metadata(path).map(|found| found.uid()).map_err(fail);
        if owner(&self.folder)? != owner(Path::new("/proc/self"))? {
            return Err(fail(std::io::Error::other("it belongs to another user")));
        }
        if !self.store_path().exists() {
            let mut writer = Writer::open(&self.store_path(), Options::default())?;
            writer.take_states(&self.real)?;
        }
        Ok(())
    }

    /// Takes what stood in into the store on the card, and removes it; `None` if nothing did.
    fn bring_home(&self) -> store::Result<Option<Brought>> {
        if !self.store_path().exists() {
            return Ok(None);
        }
        // What its slate and its log hold goes into its file.
        Writer::open(&self.store_path(), Options::default())?.close()?;
        let mut writer = open_or_begin_anew(&self.real)?;
        let samples = writer.take_in(&self.store_path())?;
        let damage: Vec<String> = writer.take_found().iter().map(Found::text).collect();
        damage.iter().for_each(|text| tracing::warn!("{text}"));
        writer.close()?;
        if let Err(error) = std::fs::remove_dir_all(&self.folder) {
            tracing::warn!(%error, folder = %self.folder.display(), "what stood in is stored, but cannot be removed");
        }
        Ok(Some(Brought { samples, damage }))
    }
}

/// Whether files can be written where the store lies.
fn lets_write(store: &Path) -> bool {
    File::options().write(true).create(true).truncate(false).open(store.with_file_name("lock")).is_ok()
}

impl Away {
    /// Waits until the store on the card can be written, then `stop`s the daemon; tells whether it did.
    pub async fn wait_for_the_card(self, boot_id: String, stop: CancellationToken) -> bool {
        while stop.run_until_cancelled(tokio::time::sleep(LOOK_EVERY)).await.is_some() {
            let (real, boot_id) = (self.stand_in.real.clone(), boot_id.clone());
            let tried = tokio::task::spawn_blocking(move || {
                let mut writer = Writer::open(&real, Options::default())?;
                writer.begin_boot(&boot_id, BootKind::Live).map(drop)
            });
            let is_away = match tried.await {
                // It is broken: as soon as it can be renamed, a new one is begun.
                Ok(Err(store::Error::Damaged { .. })) => !lets_write(&self.stand_in.real),
                Ok(Err(error)) => error.is_transient(),
                _ => false,
            };
            if !is_away {
                tracing::info!("the store on the card can be used again; going over to it");
                stop.cancel();
                return true;
            }
        }
        false
    }
}
