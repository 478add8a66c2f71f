//! `taffrail export`: tables of the store as files.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::PathBuf;

use super::Failure;
use super::progress::ProgressLine;
use super::when::LocalTimes;
use super::which::{Board, BoardStore, banks_of};
use crate::export::{Asked, Described, Error, Format, Placing, Table, Target, What, table};
use crate::quantity::UtcMs;
use crate::store::{Reader, span_words};

/// Arguments of `export`.
#[derive(Debug, clap::Args)]
pub struct ExportArguments {
    /// samples, summary (local days), passages, capacity, or events
    #[arg(value_name = "WHAT")]
    what: What,
    #[command(flatten)]
    which: BoardStore,
    /// Only this bank; all of them if not given
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// csv (with a header), json (an object a line), or parquet
    #[arg(long, value_name = "FORMAT", default_value = "csv")]
    format: Format,
    /// From this time on: local such as "2026-05-01 08:30" or 2026-05-01, or 2026-05-01T07:30:00Z
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Up to this time, not included
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// File to write, `-` for standard output; with --format parquet an existing folder, or a name that ends in /, takes
    /// files by boat, bank and month
    #[arg(long, value_name = "PATH", default_value = "-")]
    out: PathBuf,
    /// Replace what is there already
    #[arg(long)]
    force: bool,
}

/// Rows between two looks at how far it is.
const LOOK_EVERY: u64 = 10_000;

/// Runs the command.
pub fn export(arguments: &ExportArguments) -> Result<(), Failure> {
    let which = arguments.which.find()?;
    let reader = Reader::open(&which.store).map_err(|error| Failure::daemon(&error))?;
    let asked = asked(arguments, &which, &reader)?;
    let vessel = which.config.as_ref().map_or("unnamed", |config| config.boat.as_str());
    let mut table = table(arguments.what, &reader, asked.clone()).map_err(|error| Failure::daemon(&error))?;
    let rows = match write(arguments, vessel, table.as_mut()) {
        // Whoever read our output has had enough.
        Err(Failed::Target(Error::Output(cause))) if cause.kind() == std::io::ErrorKind::BrokenPipe => return Ok(()),
        Err(Failed::Target(error @ (Error::Exists(_) | Error::FolderFormat(_)))) => return Err(Failure::input(error)),
        Err(Failed::Target(error)) => return Err(Failure::daemon(&error)),
        Err(Failed::Store(error)) => return Err(Failure::daemon(&error)),
        Ok(rows) => rows,
    };
    tell(&format!("{rows} rows of {} written", arguments.what.word()));
    tell_missing(&reader, &asked)
}

enum Failed {
    Store(crate::store::Error),
    Target(Error),
}

impl From<crate::store::Error> for Failed {
    fn from(error: crate::store::Error) -> Failed {
        Failed::Store(error)
    }
}

impl From<Error> for Failed {
    fn from(error: Error) -> Failed {
        Failed::Target(error)
    }
}

fn write(arguments: &ExportArguments, vessel: &str, table: &mut dyn Table) -> Result<u64, Failed> {
    let ExportArguments { what, format, out, force, .. } = arguments;
    let columns = table.columns().to_vec();
    let is_folder = out.is_dir() || out.as_os_str().to_string_lossy().ends_with('/');
    let mut target = if out.as_os_str() == "-" {
        Target::output(*format, &columns)?
    } else if is_folder {
        let bank_at = columns.iter().position(|column| column.name == "bank").unwrap_or(0);
        let placing = Placing { table: what.word(), vessel, bank_at, time_at: table.time_at() };
        Target::folder(out, *format, &columns, placing, *force)?
    } else {
        Target::file(out, *format, &columns, *force)?
    };
    let mut progress = ProgressLine::new();
    let mut row = Vec::with_capacity(columns.len());
    let mut rows = 0_u64;
    while table.next(&mut row)? {
        target.row(&row)?;
        rows += 1;
        if rows.is_multiple_of(LOOK_EVERY) {
            let (done, all) = table.progress();
            progress.at(what.word(), done, all);
        }
    }
    progress.end();
    target.end()?;
    Ok(rows)
}

fn asked(arguments: &ExportArguments, which: &Board, reader: &Reader) -> Result<Asked, Failure> {
    let times = LocalTimes::of(which.zone.clone());
    let edge = |option: &str, given: &Option<String>, open: i64| {
        given.as_ref().map_or(Ok(UtcMs(open)), |text| times.read(option, text))
    };
    let from = edge("--from", &arguments.from, i64::MIN)?;
    let to = edge("--to", &arguments.to, i64::MAX)?;
    if to <= from {
        return Err(Failure::input("--to lies before --from; the earlier one is --from"));
    }
    let names = banks_of(reader, arguments.bank.as_deref())?;
    let described = |name: String| {
        let bank = which.config.as_ref().and_then(|config| config.bank(&name)).cloned();
        Described { name, bank }
    };
    Ok(Asked { banks: names.into_iter().map(described).collect(), from, to, zone: which.zone.clone() })
}

/// Says what is not in the files: stretches that cannot be read, and boots that cannot be placed in time.
fn tell_missing(reader: &Reader, asked: &Asked) -> Result<(), Failure> {
    let unreadable = reader.take_unreadable();
    for row in &unreadable {
        tell(&format!(
            "left out: samples {} cannot be read ({})",
            span_words(row.utc, row.boot, row.first_ms, row.last_ms),
            row.cause
        ));
    }
    let timeline = reader.timeline().map_err(|error| Failure::daemon(&error))?;
    let mut unplaced = BTreeMap::new();
    for series in reader.all_series().map_err(|error| Failure::daemon(&error))? {
        if asked.banks.iter().any(|bank| bank.name == series.bank) {
            let last = reader.last_moments(series.id).map_err(|error| Failure::daemon(&error))?;
            unplaced.extend(last.into_iter().filter(|at| timeline.utc(*at).is_none()).map(|at| (at.boot, ())));
        }
    }
    for boot in unplaced.keys() {
        tell(&format!("left out: boot {} never learned the time", boot.0));
    }
    if unreadable.is_empty() {
        return Ok(());
    }
    Err(Failure::found(format!("{} stretches could not be read and are not in the files", unreadable.len())))
}

fn tell(text: &str) {
    // A closed standard error is no reason to fail.
    let _ = writeln!(std::io::stderr(), "{text}");
}
