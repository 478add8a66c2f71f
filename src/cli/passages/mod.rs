//! `taffrail passages`: what the bank went through, passage by passage, and what people say of it.

mod edit;
mod table;

use serde::Serialize;

use super::Failure;
use super::paper::{print, print_json};
use super::when::LocalTimes;
use super::which::{BoardStore, banks_of};
use crate::health::Aboard;
use crate::quantity::UtcMs;
use crate::review::{Looked, PassageView, one_passage, passages as read_passages, unreadable_notes};
use crate::store::Reader;

/// Arguments of `passages`.
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true)]
pub struct PassagesArguments {
    #[command(subcommand)]
    action: Option<Action>,
    #[command(flatten)]
    list: ListArguments,
}

#[derive(Debug, clap::Subcommand)]
enum Action {
    /// Show one passage: what it came to, and what went through each branch
    Show(ShowArguments),
    /// Mark a passage by hand
    Mark(edit::MarkArguments),
    /// Give a passage a name; an empty one takes it away
    Name(edit::NameArguments),
    /// Put a note to a passage; it takes the place of the one before, and an empty one takes it away
    Note(edit::NoteArguments),
    /// Make one passage of several; the first keeps its number, and all names and notes are kept
    Merge(edit::MergeArguments),
    /// Cut a passage in two; the later part gets a new number
    Split(edit::SplitArguments),
    /// Give a passage another begin, another end, or both
    Ends(edit::EndsArguments),
    /// Say that this is no passage; it is not found again
    Remove(edit::RemoveArguments),
}

#[derive(Debug, clap::Args)]
struct ListArguments {
    #[command(flatten)]
    which: BoardStore,
    /// Only those of this bank; of all banks if not given
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// Only those that reach beyond this time: local such as "2026-05-01 08:30", or 2026-05-01T07:30:00Z
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Only those that begin before this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// At most this many of each bank, the latest
    #[arg(long, value_name = "COUNT", default_value_t = 50)]
    limit: usize,
    /// Print one JSON object instead of a table
    #[arg(long)]
    json: bool,
}

#[derive(Debug, clap::Args)]
struct ShowArguments {
    #[command(flatten)]
    which: BoardStore,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// What `--json` prints.
#[derive(Serialize)]
struct View {
    banks: Vec<BankView>,
}

/// The passages of one bank, the latest first.
#[derive(Serialize)]
struct BankView {
    bank: String,
    /// Up to when samples were looked at.
    surveyed_to: Option<String>,
    passages: Vec<PassageView>,
    notes: Vec<String>,
}

/// Runs the command.
pub fn passages(arguments: &PassagesArguments) -> Result<(), Failure> {
    match &arguments.action {
        None => list(&arguments.list),
        Some(Action::Show(arguments)) => show(arguments),
        Some(Action::Mark(arguments)) => edit::mark(arguments),
        Some(Action::Name(arguments)) => edit::name(arguments),
        Some(Action::Note(arguments)) => edit::note(arguments),
        Some(Action::Merge(arguments)) => edit::merge(arguments),
        Some(Action::Split(arguments)) => edit::split(arguments),
        Some(Action::Ends(arguments)) => edit::ends(arguments),
        Some(Action::Remove(arguments)) => edit::remove(arguments),
    }
}

fn list(arguments: &ListArguments) -> Result<(), Failure> {
    let board = arguments.which.find()?;
    let times = LocalTimes::of(board.zone.clone());
    let reader = Reader::open(&board.store).map_err(|error| Failure::daemon(&error))?;
    let time = |option: &str, text: &Option<String>| text.as_ref().map(|text| times.read(option, text)).transpose();
    let span = (time("--from", &arguments.from)?, time("--to", &arguments.to)?);
    let banks = banks_of(&reader, arguments.bank.as_deref())?;
    let banks = banks.into_iter().map(|bank| one_bank(&reader, bank, span, arguments.limit));
    let banks = banks.collect::<crate::store::Result<Vec<BankView>>>().map_err(|error| Failure::daemon(&error))?;
    if arguments.json {
        return print_json(&View { banks });
    }
    let tables = banks.iter().map(|view| table::of_bank(&view.bank, &view.passages, &view.notes, &times));
    print(&tables.collect::<Vec<_>>().join("\n"))
}

fn one_bank(
    reader: &Reader,
    bank: String,
    (from, to): (Option<UtcMs>, Option<UtcMs>),
    limit: usize,
) -> crate::store::Result<BankView> {
    let passages = read_passages(reader, &bank, from, to, limit)?;
    let looked = Looked::at(reader, &bank)?;
    Ok(BankView { surveyed_to: looked.surveyed_to(), notes: looked.note().into_iter().collect(), passages, bank })
}

fn show(arguments: &ShowArguments) -> Result<(), Failure> {
    let board = arguments.which.find()?;
    let times = LocalTimes::of(board.zone.clone());
    let read = |error| Failure::daemon(&error);
    let reader = Reader::open(&board.store).map_err(read)?;
    let stored = edit::stored(&reader, arguments.id)?;
    let bank = board.config.as_ref().and_then(|config| config.bank(&stored.bank));
    let branches = board.branches(&stored.bank);
    let aboard = bank.map(|bank| Aboard { bank, branches: &branches });
    let mut one = one_passage(&reader, &stored, aboard.as_ref()).map_err(read)?;
    let series = reader.all_series().map_err(read)?;
    one.notes.extend(unreadable_notes(&reader.take_unreadable(), &series));
    if arguments.json { print_json(&one) } else { print(&table::of_one(&stored.bank, &one, &times)) }
}
