//! `taffrail report`: one HTML file to print or send.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::Failure;
use super::paper::print;
use super::which::{Board, BoardStore};
use crate::battery::Bank;
use crate::clock::Clock;
use crate::health::Aboard;
use crate::http::Reported;
use crate::store::Reader;

/// Arguments of `report`.
#[derive(Debug, clap::Args)]
pub struct ReportArguments {
    #[command(subcommand)]
    about: AboutWhat,
}

#[derive(Debug, clap::Subcommand)]
enum AboutWhat {
    /// A passage: what was drawn, by what, how deep, and what put it back
    Passage(PassageArguments),
    /// The health of a bank: capacity and its fade, resistance, balance, use, wear, what to do
    Health(HealthArguments),
}

#[derive(Debug, clap::Args)]
struct PassageArguments {
    /// Number of the passage, as `taffrail passages` lists it
    number: i64,
    #[command(flatten)]
    to: To,
}

#[derive(Debug, clap::Args)]
struct HealthArguments {
    /// The bank; need not be given where there is only one
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    #[command(flatten)]
    to: To,
}

#[derive(Debug, clap::Args)]
struct To {
    #[command(flatten)]
    which: BoardStore,
    /// File to write, `-` for standard output
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
}

/// Runs the command.
pub fn report(arguments: &ReportArguments) -> Result<(), Failure> {
    let to = match &arguments.about {
        AboutWhat::Passage(passage) => &passage.to,
        AboutWhat::Health(health) => &health.to,
    };
    let board = to.which.find()?;
    let config = board.config.as_ref().ok_or_else(|| {
        Failure::input("--config: is missing; a report says what the bank is, which the configuration describes")
    })?;
    let reader = Reader::open(&board.store).map_err(|error| Failure::daemon(&error))?;
    let reported = Reported { boat: &config.boat, zone: &board.zone, made: Clock::system().wall().utc };
    let html = match &arguments.about {
        AboutWhat::Passage(passage) => passage_html(&reported, &reader, &board, passage.number),
        AboutWhat::Health(health) => {
            let bank = the_bank(&config.banks, health.bank.as_deref())?;
            let branches = board.branches(&bank.name);
            let aboard = Aboard { bank, branches: &branches };
            reported.health(&reader, &aboard).map_err(|error| Failure::daemon(&error))
        }
    }?;
    write(&to.out, &html)
}

fn passage_html(reported: &Reported<'_>, reader: &Reader, board: &Board, number: i64) -> Result<String, Failure> {
    let stored = reader.passage(number).map_err(|error| Failure::daemon(&error))?.ok_or_else(|| {
        Failure::input(format!("there is no passage {number}; `taffrail passages` lists those that there are"))
    })?;
    let described = board.config.as_ref().and_then(|config| config.bank(&stored.bank));
    let bank = described.ok_or_else(|| {
        Failure::input(format!("the configuration describes no bank \"{}\", which passage {number} is of", stored.bank))
    })?;
    let branches = board.branches(&bank.name);
    let aboard = Aboard { bank, branches: &branches };
    reported.passage(reader, &aboard, &stored).map_err(|error| Failure::daemon(&error))
}

fn the_bank<'c>(banks: &'c [Bank], named: Option<&str>) -> Result<&'c Bank, Failure> {
    let names = || banks.iter().map(|bank| bank.name.as_str()).collect::<Vec<_>>().join(", ");
    match (named, banks) {
        (None, [only]) => Ok(only),
        (None, _) => Err(Failure::input(format!("--bank: is missing, expected one of: {}", names()))),
        (Some(name), _) => banks.iter().find(|bank| bank.name == name).ok_or_else(|| {
            Failure::input(format!("--bank: no bank is named \"{name}\", expected one of: {}", names()))
        }),
    }
}

fn write(path: &Path, html: &str) -> Result<(), Failure> {
    if path.as_os_str() == "-" {
        return print(html);
    }
    std::fs::write(path, html).map_err(|error| Failure::machine(format!("cannot write {}", path.display()), &error))?;
    // Told for whoever waits at a terminal; a closed standard error is no failure.
    let _ =
        writeln!(std::io::stderr(), "{} written; a browser opens it, prints it, and makes a PDF of it", path.display());
    Ok(())
}
