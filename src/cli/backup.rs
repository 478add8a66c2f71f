//! `taffrail backup`: a copy of the store, made while the daemon runs.

use std::io::Write;
use std::path::PathBuf;

use super::amount::{bytes, grouped};
use super::progress::ProgressLine;
use super::which::WhichStore;
use super::{Failure, copied};
use crate::store;

/// Arguments of `backup`.
#[derive(Debug, clap::Args)]
pub struct BackupArguments {
    #[command(flatten)]
    which: WhichStore,
    /// Put the new copy in the place of FILE if there is one; the old copy goes only when the new one is complete
    #[arg(long)]
    replace: bool,
    /// Where to write the copy, best on another card
    #[arg(value_name = "FILE")]
    file: PathBuf,
}

/// Runs the command.
pub fn backup(arguments: &BackupArguments) -> Result<(), Failure> {
    let which = arguments.which.find()?;
    let mut line = ProgressLine::new();
    let copied = store::copy(&which.store, &arguments.file, arguments.replace, &mut |step, done, total| {
        line.at(copied::words_for(step), done, total);
    });
    line.end();
    let copied = copied.map_err(|error| copied::failure(&error))?;
    let _ = writeln!(
        std::io::stderr(),
        "{}: {} samples, {}, read back and {}",
        arguments.file.display(),
        grouped(copied.soundness.samples),
        bytes(copied.bytes as f64),
        copied::verdict(&copied)
    );
    copied::tell_broken(&copied, "the store");
    Ok(())
}
