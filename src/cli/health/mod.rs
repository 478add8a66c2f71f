//! `taffrail health`: the health record of each bank as a page of text.

mod aged;
mod text;
mod wear;

use super::Failure;
use super::paper::{print, print_json};
use super::when::LocalTimes;
use super::which::BoardStore;
use crate::config::Config;
use crate::health::Aboard;
use crate::review::record::{RecordView, record};
use crate::review::unreadable_notes;
use crate::store::Reader;

/// Arguments of `health`.
#[derive(Debug, clap::Args)]
pub struct HealthArguments {
    #[command(flatten)]
    which: BoardStore,
    /// Only that of this bank; of all banks of the configuration if not given
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// What `--json` prints.
#[derive(serde::Serialize)]
struct View {
    banks: Vec<RecordView>,
}

/// Runs the command.
pub fn health(arguments: &HealthArguments) -> Result<(), Failure> {
    let board = arguments.which.find()?;
    let Some(config) = &board.config else {
        return Err(Failure::input("--config: is missing; what is healthy for a bank depends on its description"));
    };
    let names = names(config, arguments.bank.as_deref())?;
    let reader = Reader::open(&board.store).map_err(|error| Failure::daemon(&error))?;
    let mut banks = Vec::new();
    for bank in config.banks.iter().filter(|bank| names.contains(&bank.name.as_str())) {
        let branches = board.branches(&bank.name);
        let aboard = Aboard { bank, branches: &branches };
        let mut view = record(&reader, &aboard, &board.zone).map_err(|error| Failure::daemon(&error))?;
        let series = reader.all_series().map_err(|error| Failure::daemon(&error))?;
        view.notes.extend(unreadable_notes(&reader.take_unreadable(), &series));
        banks.push(view);
    }
    if arguments.json {
        return print_json(&View { banks });
    }
    let times = LocalTimes::of(board.zone.clone());
    let pages: Vec<String> = banks.iter().map(|view| text::page(view, &times)).collect();
    print(&pages.join("\n\n"))
}

fn names<'a>(config: &'a Config, named: Option<&str>) -> Result<Vec<&'a str>, Failure> {
    let all: Vec<&str> = config.banks.iter().map(|bank| bank.name.as_str()).collect();
    let Some(named) = named else { return Ok(all) };
    let one = all.iter().copied().find(|name| *name == named);
    one.map(|name| vec![name]).ok_or_else(|| {
        Failure::input(format!("--bank: no bank is named \"{named}\", expected one of: {}", all.join(", ")))
    })
}
