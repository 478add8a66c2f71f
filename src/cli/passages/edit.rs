//! What people say of passages, from the terminal.

use std::path::PathBuf;

use serde_json::{Value, json};

use crate::cli::Failure;
use crate::cli::change::{Pen, Verb, look, pen, writer};
use crate::cli::paper::{print, wrapped};
use crate::cli::when::LocalTimes;
use crate::cli::which::{DEFAULT_CONFIG, banks_of, check_there, zone_of};
use crate::config::Config;
use crate::daemon::{DataDir, store_path};
use crate::quantity::UtcMs;
use crate::review::{first_moment, last_moment, new_ends, rfc3339};
use crate::store::{PassageEdit, Reader, StoredPassage};

/// Whose passages.
#[derive(Debug, clap::Args)]
pub struct Of {
    /// Configuration file of the daemon
    #[arg(long, value_name = "FILE", default_value = DEFAULT_CONFIG)]
    config: PathBuf,
}

/// Arguments of `passages mark`.
#[derive(Debug, clap::Args)]
pub struct MarkArguments {
    #[command(flatten)]
    of: Of,
    /// The bank; it need not be named where there is only one
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// From when: local such as "2026-05-01 08:30", or 2026-05-01T07:30:00Z
    #[arg(value_name = "BEGIN")]
    begin: String,
    /// To when
    #[arg(value_name = "END")]
    end: String,
    /// A name for it
    #[arg(long, value_name = "TEXT", default_value = "")]
    name: String,
}

/// Arguments of `passages name`.
#[derive(Debug, clap::Args)]
pub struct NameArguments {
    #[command(flatten)]
    of: Of,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
    /// Its name
    #[arg(value_name = "TEXT")]
    name: String,
}

/// Arguments of `passages note`.
#[derive(Debug, clap::Args)]
pub struct NoteArguments {
    #[command(flatten)]
    of: Of,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
    /// The note
    #[arg(value_name = "TEXT")]
    note: String,
}

/// Arguments of `passages merge`.
#[derive(Debug, clap::Args)]
pub struct MergeArguments {
    #[command(flatten)]
    of: Of,
    /// Numbers of the passages, of one bank
    #[arg(value_name = "NUMBER", required = true, num_args = 2..)]
    ids: Vec<i64>,
}

/// Arguments of `passages split`.
#[derive(Debug, clap::Args)]
pub struct SplitArguments {
    #[command(flatten)]
    of: Of,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
    /// Where, within it: local such as "2026-05-01 13:00", or 2026-05-01T12:00:00Z
    #[arg(value_name = "TIME")]
    at: String,
}

/// Arguments of `passages ends`.
#[derive(Debug, clap::Args)]
pub struct EndsArguments {
    #[command(flatten)]
    of: Of,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
    /// Its begin: local such as "2026-05-01 08:30", or 2026-05-01T07:30:00Z
    #[arg(long, value_name = "TIME", required_unless_present = "end")]
    begin: Option<String>,
    /// Its end
    #[arg(long, value_name = "TIME")]
    end: Option<String>,
}

/// Arguments of `passages remove`.
#[derive(Debug, clap::Args)]
pub struct RemoveArguments {
    #[command(flatten)]
    of: Of,
    /// Number of the passage
    #[arg(value_name = "NUMBER")]
    id: i64,
}

/// What is asked, with its times as people know them.
enum Wish {
    Mark { bank: Option<String>, begin: UtcMs, end: UtcMs, name: String },
    Change { id: i64, name: Option<String>, note: Option<String>, begin: Option<UtcMs>, end: Option<UtcMs> },
    Merge(Vec<i64>),
    Split(i64, UtcMs),
    Remove(i64),
}

/// Runs `passages mark`.
pub fn mark(arguments: &MarkArguments) -> Result<(), Failure> {
    let boat = arguments.of.load()?;
    let (begin, end) = (boat.times.read("BEGIN", &arguments.begin)?, boat.times.read("END", &arguments.end)?);
    if begin >= end {
        return Err(Failure::input("BEGIN and END: expected the begin to lie before the end"));
    }
    boat.carry_out(Wish::Mark { bank: arguments.bank.clone(), begin, end, name: arguments.name.clone() })
}

/// Runs `passages name`.
pub fn name(arguments: &NameArguments) -> Result<(), Failure> {
    let (id, name) = (arguments.id, Some(arguments.name.clone()));
    arguments.of.load()?.carry_out(Wish::Change { id, name, note: None, begin: None, end: None })
}

/// Runs `passages note`.
pub fn note(arguments: &NoteArguments) -> Result<(), Failure> {
    let (id, note) = (arguments.id, Some(arguments.note.clone()));
    arguments.of.load()?.carry_out(Wish::Change { id, name: None, note, begin: None, end: None })
}

/// Runs `passages merge`.
pub fn merge(arguments: &MergeArguments) -> Result<(), Failure> {
    arguments.of.load()?.carry_out(Wish::Merge(arguments.ids.clone()))
}

/// Runs `passages split`.
pub fn split(arguments: &SplitArguments) -> Result<(), Failure> {
    let boat = arguments.of.load()?;
    let at = boat.times.read("TIME", &arguments.at)?;
    boat.carry_out(Wish::Split(arguments.id, at))
}

/// Runs `passages ends`.
pub fn ends(arguments: &EndsArguments) -> Result<(), Failure> {
    let boat = arguments.of.load()?;
    let time =
        |option: &str, text: &Option<String>| text.as_ref().map(|text| boat.times.read(option, text)).transpose();
    let (begin, end) = (time("--begin", &arguments.begin)?, time("--end", &arguments.end)?);
    boat.carry_out(Wish::Change { id: arguments.id, name: None, note: None, begin, end })
}

/// Runs `passages remove`.
pub fn remove(arguments: &RemoveArguments) -> Result<(), Failure> {
    arguments.of.load()?.carry_out(Wish::Remove(arguments.id))
}

/// A boat's configuration, with a store.
struct Boat {
    config: Config,
    times: LocalTimes,
}

impl Of {
    fn load(&self) -> Result<Boat, Failure> {
        let config = Config::load(&self.config).map_err(|error| Failure::config(&error))?;
        check_there(&store_path(&config.data_dir))?;
        let times = LocalTimes::of(zone_of(&config));
        Ok(Boat { config, times })
    }
}

impl Boat {
    fn carry_out(&self, wish: Wish) -> Result<(), Failure> {
        let pen = pen(&self.config)?;
        let reader = Reader::open(&store_path(&self.config.data_dir)).map_err(|error| Failure::daemon(&error))?;
        let text = match pen {
            Pen::Daemon(daemon) => {
                let (verb, path, body) = request(&reader, wish)?;
                let answer = daemon.ask(verb, &path, &body)?;
                answer["text"].as_str().unwrap_or("done").to_owned()
            }
            Pen::Ours(data_dir) => {
                let edit = edit_of(&reader, wish)?;
                drop(reader);
                let id = self.write(&data_dir, &edit)?;
                edit.done(id)
            }
        };
        print(&wrapped(&text, 0))
    }
}

impl Boat {
    /// Writes it, and works out what follows from it.
    fn write(&self, data_dir: &DataDir, edit: &PassageEdit) -> Result<i64, Failure> {
        let mut writer = writer(data_dir)?;
        let done = writer.edit_passage(edit).map_err(|error| Failure::passage(&error));
        let looked = if done.is_ok() { look(&self.config, data_dir, &mut writer) } else { Ok(()) };
        let closed = writer.close().map_err(|error| Failure::daemon(&error));
        let id = done?;
        looked?;
        closed.map(|_| id)
    }
}

/// The request that has the daemon do it.
fn request(reader: &Reader, wish: Wish) -> Result<(Verb, String, Value), Failure> {
    let of = |id: i64| stored(reader, id).map(|passage| format!("banks/{}/passages/{id}", passage.bank));
    let time = |utc: UtcMs| rfc3339(utc).unwrap_or_default();
    Ok(match wish {
        Wish::Mark { bank, begin, end, name } => {
            let bank = only_bank(reader, bank)?;
            let body = json!({"begin": time(begin), "end": time(end), "name": name});
            (Verb::Post, format!("banks/{bank}/passages"), body)
        }
        Wish::Change { id, name, note, begin, end } => {
            let body = json!({"name": name, "note": note, "begin": begin.map(time), "end": end.map(time)});
            (Verb::Patch, of(id)?, body)
        }
        Wish::Merge(ids) => {
            let bank = stored(reader, ids.first().copied().unwrap_or_default())?.bank;
            (Verb::Post, format!("banks/{bank}/passages/merge"), json!({"ids": ids}))
        }
        Wish::Split(id, at) => (Verb::Post, format!("{}/split", of(id)?), json!({"at": time(at)})),
        Wish::Remove(id) => (Verb::Delete, of(id)?, Value::Null),
    })
}

/// The same for the store itself.
fn edit_of(reader: &Reader, wish: Wish) -> Result<PassageEdit, Failure> {
    let read = |error| Failure::daemon(&error);
    Ok(match wish {
        Wish::Mark { bank, begin, end, name } => {
            let bank = only_bank(reader, bank)?;
            let first = first_moment(reader, &bank, begin, end).map_err(read)?.map_err(Failure::input)?;
            let last = last_moment(reader, &bank, begin, end).map_err(read)?.map_err(Failure::input)?;
            PassageEdit::Mark { bank, begin: first, end: last, name }
        }
        Wish::Change { id, name, note, begin, end } => {
            let passage = stored(reader, id)?;
            let ends = new_ends(reader, &passage, begin, end).map_err(read)?;
            let (begin, end) = ends.map_err(Failure::input)?;
            PassageEdit::Change { id, name, note, begin, end }
        }
        Wish::Merge(ids) => PassageEdit::Merge { ids },
        Wish::Split(id, at) => {
            let bank = stored(reader, id)?.bank;
            let at = last_moment(reader, &bank, UtcMs(0), at).map_err(read)?.map_err(Failure::input)?;
            PassageEdit::Split { id, at }
        }
        Wish::Remove(id) => PassageEdit::Remove { id },
    })
}

/// The bank that is named, or the only one there is.
fn only_bank(reader: &Reader, named: Option<String>) -> Result<String, Failure> {
    let banks = banks_of(reader, named.as_deref())?;
    match &banks[..] {
        [one] => Ok(one.clone()),
        all => Err(Failure::input(format!("--bank: is missing, expected one of: {}", all.join(", ")))),
    }
}

/// A passage by its number.
pub fn stored(reader: &Reader, id: i64) -> Result<StoredPassage, Failure> {
    let found = reader.passage(id).map_err(|error| Failure::daemon(&error))?;
    found.ok_or_else(|| Failure::input(format!("there is no passage {id}; `taffrail passages` lists those there are")))
}
