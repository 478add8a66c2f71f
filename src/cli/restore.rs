//! `taffrail restore`: a copy put back in the place of the store.

use std::io::Write;
use std::path::PathBuf;

use super::amount::{bytes, grouped};
use super::progress::ProgressLine;
use super::{Failure, copied};
use crate::clock::Clock;
use crate::config::Config;
use crate::daemon::DataDir;
use crate::store;

/// Arguments of `restore`.
#[derive(Debug, clap::Args)]
pub struct RestoreArguments {
    /// Configuration file whose data folder gets the copy
    #[arg(long, value_name = "FILE", default_value = "taffrail.toml")]
    config: PathBuf,
    /// The data folder itself; no configuration is read then
    #[arg(long, value_name = "DIR", conflicts_with = "config")]
    data_dir: Option<PathBuf>,
    /// Put the copy back even if pieces of it cannot be read; all that can be read is kept
    #[arg(long)]
    accept_damage: bool,
    /// The copy, as `taffrail backup` wrote it
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Runs the command.
pub fn restore(arguments: &RestoreArguments) -> Result<(), Failure> {
    if !arguments.file.is_file() {
        return Err(Failure::input(format!("{}: there is no such file", arguments.file.display())));
    }
    let folder = match &arguments.data_dir {
        Some(folder) => folder.clone(),
        None => Config::load(&arguments.config).map_err(|error| Failure::config(&error))?.data_dir,
    };
    let data_dir = DataDir::claim(&folder).map_err(|error| Failure::daemon(&error))?;
    let now = jiff::Timestamp::from_millisecond(Clock::system().wall().utc.0).unwrap_or_default();
    let when = now.strftime("%Y%m%dT%H%M%SZ").to_string();
    let mut line = ProgressLine::new();
    let accept = arguments.accept_damage;
    let put = store::put_back(&arguments.file, &data_dir.store_path(), &when, accept, &mut |step, done, total| {
        line.at(copied::words_for(step), done, total);
    });
    line.end();
    let put = put.map_err(|error| copied::failure(&error))?;
    let _ = writeln!(
        std::io::stderr(),
        "{}: {} samples, {}, put back and {}",
        data_dir.store_path().display(),
        grouped(put.copied.soundness.samples),
        bytes(put.copied.bytes as f64),
        copied::verdict(&put.copied)
    );
    if let Some(aside) = &put.aside {
        let _ = writeln!(std::io::stderr(), "the store of before is kept as {}", aside.display());
    }
    copied::tell_broken(&put.copied, "the copy");
    Ok(())
}
