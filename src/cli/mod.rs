//! Commands. Each reads its arguments, calls the library, and says plainly what went wrong.

mod amount;
mod backup;
mod change;
mod check;
mod copied;
mod demo;
mod events;
mod export;
mod failure;
mod health;
mod import;
mod info;
mod paper;
mod passages;
mod progress;
mod reckon;
mod report;
mod rereckon;
mod restore;
mod survey;
mod trace;
mod trial;
mod verify;
mod when;
mod which;

use std::ffi::OsString;
use std::io::Write;
use std::path::PathBuf;

use clap::{Parser, Subcommand};

pub use failure::Failure;
pub use trace::{Trace, TraceError};

use crate::config::Config;
use crate::daemon;

/// Reckons what a battery bank holds, says how sure it is, and keeps every sample.
///
/// Monitoring only: taffrail switches nothing and protects nothing.
#[derive(Debug, Parser)]
#[command(name = "taffrail", version, propagate_version = true)]
struct Arguments {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Read the devices of a configuration, reckon, store, and serve the page
    Run(RunArguments),
    /// Validate a configuration, open its ports, and show what each channel reads now
    Check(check::CheckArguments),
    /// Start a simulated boat and watch it: no configuration, no hardware
    Demo(demo::DemoArguments),
    /// Reckon a recorded trace (CSV) and write the state of charge with its band, row by row
    Reckon(reckon::ReckonArguments),
    /// Store a recorded trace (CSV) as if it had been read live
    Import(import::ImportArguments),
    /// Write a report of a passage or of a bank's health: one HTML file to print or send
    Report(report::ReportArguments),
    /// Write what the store has to files: samples, days, passages, capacity findings, events
    ///
    /// With --format parquet and a folder for --out the files lie by boat, bank and month (vessel=/bank=/year=/month=), so
    /// that the folders of many boats, laid into one, are one data set for any engine that reads Parquet.
    Export(export::ExportArguments),
    /// Copy the store to a file, while the daemon runs, and check the copy
    Backup(backup::BackupArguments),
    /// Check a copy and put it back in the place of the store, which is kept under another name
    Restore(restore::RestoreArguments),
    /// Tell size, span and growth of the store, and how long the card lasts
    Info(info::InfoArguments),
    /// Reckon the stored samples again, after a better version or a corrected description of the bank
    ///
    /// Stop the daemon first: this refuses to start while another taffrail works on the data folder.
    ///
    /// The new results (charge, fixes, reconciled history, what was learned) are built beside the old ones and replace them
    /// only when they are complete: if this is interrupted, the old ones stay, and it can be started again. Samples and
    /// events are never changed. Hand fixes and settings of the sensor's zero are repeated at their times.
    ///
    /// A trace that was brought in by `import` and lies before the bank's latest samples of that time is reckoned by itself
    /// and begins with an unknown charge. What `import --charge` said is not remembered: say it again with --start where
    /// the bank's history begins with a trace.
    Rereckon(rereckon::RereckonArguments),
    /// Look at the stored samples for passages and the health of the banks; a running daemon does so by itself
    ///
    /// What was looked at before is not looked at again, unless the description of the bank has changed, or something
    /// was brought in that lies before. What was marked by hand always stays.
    Survey(survey::SurveyArguments),
    /// List passages with what they came to; show one, mark, name, note, merge, split or remove
    ///
    /// Works beside a running daemon. What is changed by hand is never changed by what is found later.
    Passages(passages::PassagesArguments),
    /// Tell how a bank ages and what to do: capacity, fade, resistance, balance, use, wear
    ///
    /// Works beside a running daemon. Says plainly where there is not enough yet.
    Health(health::HealthArguments),
    /// Measure the capacity of a bank by a test: full, a steady load, the time to the cut-off
    ///
    /// The daemon watches it; whoever starts it switches load and charger, and stays with it.
    Test(trial::TestArguments),
    /// List what happened: warnings, cautions and notes, the latest first; beside a running daemon too
    Events(events::EventsArguments),
    /// Prove that the store is sound: every sample, every sum of them, every saved state; beside a running daemon too
    Verify(verify::VerifyArguments),
}

#[derive(Debug, clap::Args)]
struct RunArguments {
    /// Configuration file
    #[arg(long, value_name = "FILE", default_value = "taffrail.toml")]
    config: PathBuf,
}

/// Parses the arguments and runs the command.
///
/// # Errors
/// A [`Failure`] with its exit code: 1 where something was looked for and found, 2 for bad input or usage, 70 for a fault of the program or the machine, 77 where a
/// permission is missing, 78 for a configuration with mistakes.
pub fn run(arguments: impl IntoIterator<Item = OsString>) -> Result<(), Failure> {
    let arguments = Arguments::try_parse_from(arguments).or_else(|error| {
        if error.use_stderr() {
            return Err(Failure::usage(&error));
        }
        // Help and version are no failure; a closed pipe while printing them is none either.
        let _ = write!(std::io::stdout(), "{}", error.render());
        std::process::exit(0)
    })?;
    match arguments.command {
        Command::Run(arguments) => {
            let config = Config::load(&arguments.config).map_err(|error| Failure::config(&error))?;
            daemon::run_to_end(&config).map_err(|error| Failure::daemon(&error))
        }
        Command::Check(arguments) => check::check(&arguments),
        Command::Demo(arguments) => demo::demo(&arguments),
        Command::Reckon(arguments) => reckon::reckon(&arguments),
        Command::Import(arguments) => import::import(&arguments),
        Command::Report(arguments) => report::report(&arguments),
        Command::Export(arguments) => export::export(&arguments),
        Command::Backup(arguments) => backup::backup(&arguments),
        Command::Restore(arguments) => restore::restore(&arguments),
        Command::Info(arguments) => info::info(&arguments),
        Command::Rereckon(arguments) => rereckon::rereckon(&arguments),
        Command::Survey(arguments) => survey::survey(&arguments),
        Command::Verify(arguments) => verify::verify(&arguments),
        Command::Passages(arguments) => passages::passages(&arguments),
        Command::Health(arguments) => health::health(&arguments),
        Command::Test(arguments) => trial::test(&arguments),
        Command::Events(arguments) => events::events(&arguments),
    }
}
