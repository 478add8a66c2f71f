//! `taffrail survey`: the stored samples looked at for passages and the health of the banks, while no daemon does it.

use std::io::Write;
use std::path::{Path, PathBuf};

use tokio_util::sync::CancellationToken;

use super::Failure;
use super::import::main_series;
use super::progress::ProgressLine;
use super::reckon::load_bank;
use crate::battery::Bank;
use crate::config::Config;
use crate::daemon::{self, DataDir, Surveyed, Surveying};
use crate::store::{Options, Writer};

/// Arguments of `survey`.
#[derive(Debug, clap::Args)]
pub struct SurveyArguments {
    /// Configuration file with the banks' descriptions and the data folder
    #[arg(long, value_name = "FILE", default_value = "taffrail.toml")]
    config: PathBuf,
    /// Name of the bank in the configuration; all banks if not given
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// Look at all samples again; what was marked by hand stays
    #[arg(long)]
    anew: bool,
}

/// Runs the command.
pub fn survey(arguments: &SurveyArguments) -> Result<(), Failure> {
    let (config, banks) = match &arguments.bank {
        Some(name) => load_bank(&arguments.config, name).map(|(config, bank)| (config, vec![bank]))?,
        None => {
            let config = Config::load(&arguments.config).map_err(|error| Failure::config(&error))?;
            let banks = config.banks.clone();
            (config, banks)
        }
    };
    let path = daemon::store_path(&config.data_dir);
    if !path.exists() {
        return Err(Failure::input(format!(
            "{}: there is no store to look at, expected one in data-dir",
            path.display()
        )));
    }
    let data_dir = DataDir::claim(&config.data_dir).map_err(|error| match error {
        daemon::Error::InUse(_) => Failure::unavailable(format!("{error}; a daemon looks at the samples by itself")),
        other => Failure::daemon(&other),
    })?;
    let store = data_dir.store_path();
    let mut writer = Writer::open(&store, Options::default()).map_err(|error| Failure::daemon(&error))?;
    for bank in &banks {
        if arguments.anew {
            writer.forget_survey(&bank.name).map_err(|error| Failure::daemon(&error))?;
        }
        let surveyed = look_at(&config, bank, &store, &mut writer)?;
        writeln!(std::io::stdout(), "{}", words(bank, &surveyed))
            .map_err(|error| Failure::machine("cannot write to standard output", &error))?;
    }
    writer.close().map(drop).map_err(|error| Failure::daemon(&error))
}

/// Looks at what is stored of a bank and was not looked at yet, with progress on a terminal. What cannot be taken into
/// account is said on standard error.
pub fn look_at(config: &Config, bank: &Bank, store: &Path, writer: &mut Writer) -> Result<Surveyed, Failure> {
    let work = Surveying::of(config, bank, main_series(config, &bank.name).name);
    let mut line = ProgressLine::new();
    let surveyed = daemon::survey(store, &work, writer, &CancellationToken::new(), &mut |looked| {
        line.at("looking at the samples", looked.done_ms, looked.total_ms);
    });
    line.end();
    let surveyed = surveyed.map_err(|error| Failure::daemon(&error))?;
    for note in &surveyed.notes {
        let _ = writeln!(std::io::stderr(), "{note}");
    }
    Ok(surveyed)
}

/// What was done, for people.
fn words(bank: &Bank, surveyed: &Surveyed) -> String {
    let days = std::time::Duration::from_millis(surveyed.looked_ms).as_secs_f64() / 86_400.0;
    if surveyed.looked_ms == 0 {
        return format!("{}: nothing new to look at", bank.name);
    }
    let told: Vec<String> =
        surveyed.events.iter().map(|event| format!("\n  {}: {}", event.priority, event.text)).collect();
    format!("{}: looked at {days:.1} days of samples{}", bank.name, told.concat())
}
