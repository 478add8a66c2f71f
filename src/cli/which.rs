//! Which store a command speaks of.

use std::path::{Path, PathBuf};

use jiff::tz::TimeZone;

use super::Failure;
use crate::battery::Branch;
use crate::config::Config;
use crate::daemon;
use crate::store::{Reader, SeriesKind};

/// Configuration where none is named.
pub const DEFAULT_CONFIG: &str = "taffrail.toml";

/// The store of a configuration, or a file by its name.
#[derive(Debug, clap::Args)]
pub struct WhichStore {
    /// Configuration file whose data folder holds the store
    #[arg(long, value_name = "FILE", default_value = DEFAULT_CONFIG)]
    config: PathBuf,
    /// The store's file itself, such as a backup; no configuration is read then
    #[arg(long, value_name = "FILE", conflicts_with = "config")]
    store: Option<PathBuf>,
}

/// A store, and the zone of local days there: that of the configuration, or the system's.
pub struct Which {
    pub store: PathBuf,
    pub zone: TimeZone,
}

impl WhichStore {
    /// Reads the configuration if need be; a store that is not there is said to be so.
    pub fn find(&self) -> Result<Which, Failure> {
        let which = self.named()?;
        check_there(&which.store)?;
        Ok(which)
    }

    /// Reads the configuration if need be; the store may not be there.
    pub fn named(&self) -> Result<Which, Failure> {
        if let Some(store) = &self.store {
            return Ok(Which { store: store.clone(), zone: TimeZone::system() });
        }
        let config = Config::load(&self.config).map_err(|error| Failure::config(&error))?;
        Ok(Which { store: daemon::store_path(&config.data_dir), zone: zone_of(&config) })
    }
}

/// A store, with the description of what is aboard where a configuration says it.
#[derive(Debug, clap::Args)]
pub struct BoardStore {
    /// Configuration file that describes banks and branches, and whose data folder holds the store; taffrail.toml if
    /// neither is given
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
    /// The store's file itself, such as a backup; a configuration is read then only if it is named
    #[arg(long, value_name = "FILE")]
    store: Option<PathBuf>,
}

/// A store, the zone of local times there, and what is aboard.
pub struct Board {
    pub store: PathBuf,
    pub zone: TimeZone,
    pub config: Option<Config>,
}

impl BoardStore {
    /// Reads the configuration if need be; a store that is not there is said to be so.
    pub fn find(&self) -> Result<Board, Failure> {
        let path = match (&self.config, &self.store) {
            (Some(config), _) => Some(config.clone()),
            (None, None) => Some(PathBuf::from(DEFAULT_CONFIG)),
            (None, Some(_)) => None,
        };
        let config = path.map(|path| Config::load(&path)).transpose().map_err(|error| Failure::config(&error))?;
        let of_config = || config.as_ref().map(|config| daemon::store_path(&config.data_dir));
        let store = self.store.clone().or_else(of_config).unwrap_or_default();
        check_there(&store)?;
        Ok(Board { store, zone: config.as_ref().map_or_else(TimeZone::system, zone_of), config })
    }
}

impl Board {
    /// The branches of a bank, as far as a configuration says them.
    pub fn branches(&self, bank: &str) -> Vec<Branch> {
        let all = self.config.iter().flat_map(|config| &config.branches);
        all.filter(|branch| branch.bank == bank).cloned().collect()
    }
}

/// Banks that a store has samples of, in the order in which they were first seen; the one that is named, if one is.
pub fn banks_of(reader: &Reader, named: Option<&str>) -> Result<Vec<String>, Failure> {
    let mut banks: Vec<String> = Vec::new();
    for series in reader.all_series().map_err(|error| Failure::daemon(&error))? {
        if series.kind == SeriesKind::Device.as_str() && !banks.contains(&series.bank) {
            banks.push(series.bank);
        }
    }
    match named {
        None => Ok(banks),
        Some(name) if banks.iter().any(|bank| bank == name) => Ok(vec![name.to_owned()]),
        Some(name) => Err(Failure::input(format!(
            "--bank: nothing is stored of a bank named \"{name}\", expected one of: {}",
            banks.join(", ")
        ))),
    }
}

/// The zone of local times by a configuration.
pub fn zone_of(config: &Config) -> TimeZone {
    TimeZone::get(&config.zone).unwrap_or(TimeZone::UTC)
}

/// Says that there is no store, and how to name one.
pub fn check_there(store: &Path) -> Result<(), Failure> {
    if store.is_file() {
        return Ok(());
    }
    Err(Failure::unavailable(format!(
        "{}: there is no store; name the configuration of the daemon with --config, or the file with --store",
        store.display()
    )))
}
