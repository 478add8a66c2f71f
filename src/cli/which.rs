//! Which store a command speaks of.

use std::path::PathBuf;

use super::Failure;
use crate::config::Config;
use crate::daemon;

/// The store of a configuration, or a file by its name.
#[derive(Debug, clap::Args)]
pub struct WhichStore {
    /// Configuration file whose data folder holds the store
    #[arg(long, value_name = "FILE", default_value = "taffrail.toml")]
    config: PathBuf,
    /// The store's file itself, such as a backup; no configuration is read then
    #[arg(long, value_name = "FILE", conflicts_with = "config")]
    store: Option<PathBuf>,
}

/// A store, and the zone of local days there: that of the configuration, or the system's.
pub struct Which {
    pub store: PathBuf,
    pub zone: jiff::tz::TimeZone,
    /// `None` where the file was named.
    pub config: Option<Config>,
}

impl WhichStore {
    /// Reads the configuration if need be; a store that is not there is said to be so.
    pub fn find(&self) -> Result<Which, Failure> {
        let which = self.named()?;
        if which.store.is_file() {
            return Ok(which);
        }
        Err(Failure::unavailable(format!(
            "{}: there is no store; name the configuration of the daemon with --config, or the file with --store",
            which.store.display()
        )))
    }

    /// Reads the configuration if need be; the store may not be there.
    pub fn named(&self) -> Result<Which, Failure> {
        if let Some(store) = &self.store {
            return Ok(Which { store: store.clone(), zone: jiff::tz::TimeZone::system(), config: None });
        }
        let config = Config::load(&self.config).map_err(|error| Failure::config(&error))?;
        let zone = jiff::tz::TimeZone::get(&config.zone).unwrap_or(jiff::tz::TimeZone::UTC);
        Ok(Which { store: daemon::store_path(&config.data_dir), zone, config: Some(config) })
    }
}
