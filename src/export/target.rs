//! Where rows go: a file, standard output, or a folder of files by boat, bank and month. Files are written aside and
//! renamed at the end, so that an export that breaks off leaves nothing that looks whole.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};

use jiff::{Timestamp, tz::TimeZone};

use super::cell::{Cell, Column};
use super::format::{Format, Writing};
use crate::quantity::UtcMs;

/// Why rows cannot be put where they belong.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// Something is there already.
    #[error("{0} is there already; name another place, or say --force to replace it")]
    Exists(PathBuf),
    /// A folder of files is to be had in one format only.
    #[error("a folder takes --format parquet only; for {0} name a file with --out")]
    FolderFormat(&'static str),
    /// The file system.
    #[error("{path}: {cause}")]
    File {
        /// Which file.
        path: PathBuf,
        /// Why not.
        #[source]
        cause: io::Error,
    },
    /// Standard output, or another stream; a reader that has gone is told apart by its kind.
    #[error("cannot write: {0}")]
    Output(#[source] io::Error),
}

/// Takes rows.
pub struct Target {
    to: To,
    writing: Option<Box<dyn Writing>>,
}

enum To {
    Output,
    File { path: PathBuf, aside: PathBuf },
    Folder(Folder),
}

/// A data set of many files: `vessel=/bank=/year=/month=`, as engines that query folders know them.
struct Folder {
    root: PathBuf,
    aside: PathBuf,
    table: &'static str,
    vessel: String,
    /// Columns of the files: all but the bank, which the path tells.
    columns: Vec<Column>,
    bank_at: usize,
    time_at: usize,
    /// The part of the path that the open file lies in.
    open: Option<String>,
    written: BTreeSet<PathBuf>,
    row: Vec<Cell>,
}

/// What a folder must know to place rows.
#[derive(Debug, Clone, Copy)]
pub struct Placing<'a> {
    /// Name of the table, of which the files' names are made.
    pub table: &'static str,
    /// Name of the boat.
    pub vessel: &'a str,
    /// Place of the column `bank`.
    pub bank_at: usize,
    /// Place of the column whose month counts.
    pub time_at: usize,
}

impl Target {
    /// Rows go to standard output.
    ///
    /// # Errors
    /// What writing reports.
    pub fn output(format: Format, columns: &[Column]) -> Result<Target, Error> {
        Target::stream(format, columns, Box::new(io::stdout()))
    }

    /// Rows go to a stream.
    ///
    /// # Errors
    /// What writing reports.
    pub fn stream(format: Format, columns: &[Column], out: Box<dyn io::Write + Send>) -> Result<Target, Error> {
        let writing = format.begin(columns, out).map_err(Error::Output)?;
        Ok(Target { to: To::Output, writing: Some(writing) })
    }

    /// Rows go to a file.
    ///
    /// # Errors
    /// [`Error::Exists`] unless `force`, or what the file system reports.
    pub fn file(path: &Path, format: Format, columns: &[Column], force: bool) -> Result<Target, Error> {
        if path.exists() && !force {
            return Err(Error::Exists(path.to_owned()));
        }
        let mut aside = path.as_os_str().to_owned();
        aside.push(".part");
        let aside = PathBuf::from(aside);
        let writing = begin(&aside, format, columns)?;
        Ok(Target { to: To::File { path: path.to_owned(), aside }, writing: Some(writing) })
    }

    /// Rows go to files of a folder.
    ///
    /// # Errors
    /// [`Error::FolderFormat`], [`Error::Exists`] where this table of this boat is there already, unless `force`, or what
    /// the file system reports.
    pub fn folder(
        root: &Path,
        format: Format,
        columns: &[Column],
        placing: Placing<'_>,
        force: bool,
    ) -> Result<Target, Error> {
        if format != Format::Parquet {
            return Err(Error::FolderFormat(format.extension()));
        }
        let vessel = format!("vessel={}", clean(placing.vessel));
        let present = files_of(&root.join(&vessel), placing.table);
        if let Some(first) = present.first().filter(|_| !force) {
            return Err(Error::Exists(first.clone()));
        }
        let mut columns = columns.to_vec();
        columns.remove(placing.bank_at);
        let aside = root.join(format!(".{}-{}.part", placing.table, clean(placing.vessel)));
        let fail = |cause| Error::File { path: aside.clone(), cause };
        match fs::remove_dir_all(&aside) {
            Err(cause) if cause.kind() != io::ErrorKind::NotFound => return Err(fail(cause)),
            _ => fs::create_dir_all(&aside).map_err(fail)?,
        }
        let folder = Folder {
            root: root.to_owned(),
            aside,
            table: placing.table,
            vessel,
            columns,
            bank_at: placing.bank_at,
            time_at: placing.time_at,
            open: None,
            written: BTreeSet::new(),
            row: Vec::new(),
        };
        Ok(Target { to: To::Folder(folder), writing: None })
    }

    /// Takes a row.
    ///
    /// # Errors
    /// What writing reports.
    pub fn row(&mut self, row: &[Cell]) -> Result<(), Error> {
        let row = match &mut self.to {
            To::Folder(folder) => folder.place(row, &mut self.writing)?,
            _ => row,
        };
        let Some(writing) = &mut self.writing else { return Ok(()) };
        writing.row(row).map_err(|cause| self.to.error(cause))
    }

    /// Ends what is open, and puts everything where it belongs.
    ///
    /// # Errors
    /// What writing reports.
    pub fn end(mut self) -> Result<(), Error> {
        if let Some(writing) = self.writing.take() {
            writing.end().map_err(|cause| self.to.error(cause))?;
        }
        match self.to {
            To::Output => Ok(()),
            To::File { path, aside } => put(&aside, &path),
            To::Folder(folder) => folder.settle(),
        }
    }
}

impl To {
    fn error(&self, cause: io::Error) -> Error {
        match self {
            To::Output => Error::Output(cause),
            To::File { aside: path, .. } => Error::File { path: path.clone(), cause },
            To::Folder(folder) => Error::File { path: folder.aside.clone(), cause },
        }
    }
}

impl Folder {
    /// Opens the file that a row belongs to, and gives the row as it stands there.
    fn place(&mut self, row: &[Cell], writing: &mut Option<Box<dyn Writing>>) -> Result<&[Cell], Error> {
        let part = self.part(row);
        if self.open.as_ref() != Some(&part) {
            if let Some(done) = writing.take() {
                done.end().map_err(|cause| Error::File { path: self.aside.clone(), cause })?;
            }
            let folder = self.aside.join(&part);
            fs::create_dir_all(&folder).map_err(|cause| Error::File { path: folder.clone(), cause })?;
            let name = (1..).map(|number| format!("{}-{number:04}.parquet", self.table));
            let path = name.map(|name| PathBuf::from(&part).join(name)).find(|path| !self.written.contains(path));
            let path = path.unwrap_or_default();
            *writing = Some(begin(&self.aside.join(&path), Format::Parquet, &self.columns)?);
            self.written.insert(path);
            self.open = Some(part);
        }
        self.row.clear();
        self.row.extend(row.iter().enumerate().filter(|(at, _)| *at != self.bank_at).map(|(_, cell)| cell.clone()));
        Ok(&self.row)
    }

    fn part(&self, row: &[Cell]) -> String {
        let bank = match row.get(self.bank_at) {
            Some(Cell::Text(bank)) => clean(bank),
            _ => "none".to_owned(),
        };
        let month = match row.get(self.time_at) {
            Some(Cell::Time(time)) => month_of(*time),
            _ => None,
        };
        // What cannot be placed in time has a month of its own, so that it is not lost.
        let (year, month) = month.unwrap_or((0, 0));
        format!("{}/bank={bank}/year={year:04}/month={month:02}", self.vessel)
    }

    fn settle(self) -> Result<(), Error> {
        for old in files_of(&self.root.join(&self.vessel), self.table) {
            fs::remove_file(&old).map_err(|cause| Error::File { path: old.clone(), cause })?;
        }
        for path in &self.written {
            let to = self.root.join(path);
            if let Some(folder) = to.parent() {
                fs::create_dir_all(folder).map_err(|cause| Error::File { path: folder.to_owned(), cause })?;
            }
            put(&self.aside.join(path), &to)?;
        }
        fs::remove_dir_all(&self.aside).map_err(|cause| Error::File { path: self.aside.clone(), cause })
    }
}

fn begin(path: &Path, format: Format, columns: &[Column]) -> Result<Box<dyn Writing>, Error> {
    let fail = |cause| Error::File { path: path.to_owned(), cause };
    let file = File::create(path).map_err(fail)?;
    format.begin(columns, Box::new(io::BufWriter::new(file))).map_err(fail)
}

/// Renames a file that is written and synced, so that a power cut leaves the old one or the whole new one.
fn put(aside: &Path, path: &Path) -> Result<(), Error> {
    let synced = File::open(aside).and_then(|file| file.sync_all());
    synced.and_then(|()| fs::rename(aside, path)).map_err(|cause| Error::File { path: path.to_owned(), cause })
}

/// Files of a table anywhere below a boat's folder.
fn files_of(folder: &Path, table: &str) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut found = Vec::new();
    for path in entries.flatten().map(|entry| entry.path()) {
        let name = path.file_name().unwrap_or_default().to_string_lossy().into_owned();
        if path.is_dir() {
            found.extend(files_of(&path, table));
        } else if name.strip_prefix(table).is_some_and(|rest| rest.starts_with('-')) && name.ends_with(".parquet") {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// A name as it may stand in a path that engines take apart.
fn clean(name: &str) -> String {
    let kept = |c: char| if c.is_alphanumeric() || matches!(c, '-' | '_' | '.') { c } else { '-' };
    let cleaned: String = name.trim().chars().map(kept).collect();
    let cleaned = cleaned.trim_matches('.').to_owned();
    if cleaned.is_empty() { "unnamed".to_owned() } else { cleaned }
}

fn month_of(time: UtcMs) -> Option<(i16, i8)> {
    let date = Timestamp::from_millisecond(time.0).ok()?.to_zoned_datetime(TimeZone::UTC).date();
    Some((date.year(), date.month()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_made_fit_for_paths() {
        assert_eq!(clean("Marigold"), "Marigold");
        assert_eq!(clean("S/Y = \"Öland\" 2"), "S-Y----Öland--2");
        assert_eq!(clean(".."), "unnamed");
    }

    #[test]
    fn the_month_is_that_of_utc() {
        assert_eq!(month_of(UtcMs(1_772_323_199_999)), Some((2026, 2)));
        assert_eq!(month_of(UtcMs(1_772_323_200_000)), Some((2026, 3)));
    }
}
