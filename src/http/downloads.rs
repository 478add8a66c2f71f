//! What can be taken along: a copy of the store, the settings in effect, and a bank's samples of a span.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path as FilePath, PathBuf};
use std::sync::Arc;

use axum::body::{Body, Bytes};
use axum::extract::{Path, Query, State};
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_LENGTH, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use futures_util::{StreamExt, stream};
use jiff::tz::TimeZone;
use serde::Deserialize;
use tokio::sync::mpsc;
use utoipa::IntoParams;

use super::live::Live;
use super::passages::{aboard, time};
use super::problem::Problem;
use crate::export::{Asked, Described, Format, Target, What, table};
use crate::quantity::UtcMs;
use crate::store::{self, Reader};

/// Bytes that are handed to a client at a time.
const PIECE: usize = 64 * 1024;
/// Pieces that may wait for a slow client.
const AHEAD: usize = 8;

/// Media type of a store.
pub(super) const STORE: &str = "application/vnd.sqlite3";

/// Where a copy lies until it is open for sending.
fn copy_path(store_path: &FilePath) -> PathBuf {
    store_path.with_file_name("download.sqlite")
}

/// Removes what a cut has left of a copy that was to be sent: it may be as large as the store.
pub fn forget_copy(store_path: &FilePath) {
    for path in [copy_path(store_path), copy_path(store_path).with_extension("sqlite.partial")] {
        // There is none after an orderly stop.
        let _ = fs::remove_file(path);
    }
}

/// A copy of the whole store, checked, to be put back with `taffrail restore`.
#[utoipa::path(get, path = "/api/v1/backup", responses((status = 200, content_type = "application/vnd.sqlite3", body = Vec<u8>), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn backup(State(live): State<Arc<Live>>) -> Result<Response, Problem> {
    // A second copy at the same time would take the room of the first.
    let Ok(alone) = Arc::clone(&live.copying).try_lock_owned() else {
        return Err(Problem::conflict("a copy is being made for somebody else already; try again in some minutes"));
    };
    let store_path = live.readers.path().to_owned();
    let copied = tokio::task::spawn_blocking(move || {
        let _alone = alone;
        let to = copy_path(&store_path);
        let copied = store::copy(&store_path, &to, true, &mut |_, _, _| {}).map_err(|error| error.to_string())?;
        let opened = File::open(&to).map_err(|error| error.to_string());
        // Open, it can be read to its end; without a name it goes with whoever reads it.
        let _ = fs::remove_file(&to);
        Ok::<_, String>((opened?, copied.bytes))
    });
    let failed = |why: String| Problem::unavailable(format!("no copy was made: {why}"));
    let (mut file, bytes) = copied.await.map_err(|error| failed(error.to_string()))?.map_err(failed)?;
    let name = file_name(&live, "store", "sqlite");
    let body = piped(move |mut pipe| io::copy(&mut file, &mut pipe).and_then(|_| pipe.flush()));
    let mut answer = attachment(&name, STORE, body);
    answer.headers_mut().insert(CONTENT_LENGTH, bytes.into());
    Ok(answer)
}

/// The settings in effect, complete, as a configuration that could be read again. It does not tell the PIN.
#[utoipa::path(get, path = "/api/v1/configuration", responses((status = 200, content_type = "application/toml", body = String)))]
pub async fn configuration(State(live): State<Arc<Live>>) -> Response {
    attachment(&file_name(&live, "settings", "toml"), "application/toml", live.configuration.clone().into())
}

/// What of a bank's record.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct ExportRequest {
    /// `samples`, `summary` (local days), `passages`, `capacity` or `events`; samples if not given.
    what: Option<String>,
    /// `csv`, `json` (an object a line) or `parquet`; csv if not given.
    format: Option<String>,
    /// From this time on, RFC 3339; from the first if not given.
    from: Option<String>,
    /// Up to this time, not included, RFC 3339; to the last if not given.
    to: Option<String>,
}

/// A table of a bank's record as a file, as `taffrail export` writes it.
#[utoipa::path(get, path = "/api/v1/banks/{name}/export", params(("name" = String, Path, description = "Name of the bank"), ExportRequest), responses((status = 200, content_type = "text/csv", body = String), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn export(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<ExportRequest>,
) -> Result<Response, Problem> {
    let (bank, _) = aboard(&live, &name)?;
    let word = |field: &str, given: Option<String>, usual: &str| (field.to_owned(), given.unwrap_or(usual.to_owned()));
    let what: What = parsed(word("what", request.what, "samples"))?;
    let format: Format = parsed(word("format", request.format, "csv"))?;
    let edge = |field: &str, given: Option<String>, open: i64| given.map_or(Ok(UtcMs(open)), |text| time(field, &text));
    let (from, to) = (edge("from", request.from, i64::MIN)?, edge("to", request.to, i64::MAX)?);
    if from >= to {
        return Err(Problem::bad_request("from and to: expected from to lie before to"));
    }
    let zone = TimeZone::get(&live.zone).unwrap_or(TimeZone::UTC);
    let file = file_name(&live, &format!("{name}-{}", what.word()), format.extension());
    let described = Described { name, bank: Some(bank) };
    let asked = Asked { banks: vec![described], from, to, zone };
    let (pipe, body) = pipe();
    let readers = live.readers.clone();
    tokio::spawn(async move {
        let told = pipe.clone();
        let written = readers.with(move |reader| Ok(write_table(reader, what, asked, format, pipe)));
        if let Err(why) = written.await.map_err(|problem| problem.detail().to_owned()).and_then(|written| written) {
            // The file breaks off where it would look whole otherwise.
            let _ = told.send(Err(io::Error::other(why))).await;
        }
    });
    Ok(attachment(&file, media_type(format), body))
}

fn parsed<T: std::str::FromStr<Err = String>>((field, word): (String, String)) -> Result<T, Problem> {
    word.parse().map_err(|expected| Problem::bad_request(format!("{field}: {expected}, got \"{word}\"")))
}

const fn media_type(format: Format) -> &'static str {
    match format {
        Format::Csv => "text/csv; charset=utf-8",
        Format::Json => "application/jsonl",
        Format::Parquet => "application/vnd.apache.parquet",
    }
}

fn write_table(reader: &Reader, what: What, asked: Asked, format: Format, to: Sender) -> Result<(), String> {
    let failed = |error: &dyn std::error::Error| error.to_string();
    let mut table = table(what, reader, asked).map_err(|error| failed(&error))?;
    let columns = table.columns().to_vec();
    let mut target = Target::stream(format, &columns, Box::new(Pipe::new(to))).map_err(|error| failed(&error))?;
    let mut row = Vec::with_capacity(columns.len());
    while table.next(&mut row).map_err(|error| failed(&error))? {
        target.row(&row).map_err(|error| failed(&error))?;
    }
    target.end().map_err(|error| failed(&error))
}

/// Such as `marigold-settings-2026-11-29.toml`.
fn file_name(live: &Live, what: &str, extension: &str) -> String {
    let zone = TimeZone::get(&live.zone).unwrap_or(TimeZone::UTC);
    let day = jiff::Timestamp::from_millisecond(live.time.utc(live.clock.mono()).0)
        .map_or_else(|_| "undated".to_owned(), |now| now.to_zoned_datetime(zone).date().to_string());
    let plain = |text: &str| -> String {
        let kept = text.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' });
        kept.collect()
    };
    format!("{}-{}-{day}.{extension}", plain(&live.boat), plain(what))
}

fn attachment(name: &str, kind: &'static str, body: Body) -> Response {
    let mut headers = HeaderMap::new();
    let disposition = format!("attachment; filename=\"{name}\"");
    headers.insert(CONTENT_TYPE, axum::http::HeaderValue::from_static(kind));
    if let Ok(disposition) = disposition.parse() {
        headers.insert(CONTENT_DISPOSITION, disposition);
    }
    (headers, body).into_response()
}

type Sender = mpsc::Sender<io::Result<Bytes>>;

/// A body, and where what belongs into it is sent.
fn pipe() -> (Sender, Body) {
    let (sender, receiver) = mpsc::channel(AHEAD);
    let pieces = stream::unfold(receiver, |mut receiver| async { Some((receiver.recv().await?, receiver)) });
    // A body is asked again after its end, by what compresses it and by what sends it.
    (sender, Body::from_stream(pieces.fuse()))
}

/// A body that is written on a thread of its own.
fn piped(write: impl FnOnce(Pipe) -> io::Result<()> + Send + 'static) -> Body {
    let (sender, body) = pipe();
    tokio::task::spawn_blocking(move || {
        let told = sender.clone();
        if let Err(error) = write(Pipe::new(sender)) {
            let _ = told.blocking_send(Err(error));
        }
    });
    body
}

/// Writes into a body. A client that has gone is a broken pipe.
struct Pipe {
    to: Sender,
    piece: Vec<u8>,
}

impl Pipe {
    fn new(to: Sender) -> Pipe {
        Pipe { to, piece: Vec::with_capacity(PIECE) }
    }
}

impl Write for Pipe {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.piece.extend_from_slice(bytes);
        if self.piece.len() >= PIECE {
            self.flush()?;
        }
        Ok(bytes.len())
    }

    fn flush(&mut self) -> io::Result<()> {
        if self.piece.is_empty() {
            return Ok(());
        }
        let piece = std::mem::replace(&mut self.piece, Vec::with_capacity(PIECE));
        self.to.blocking_send(Ok(piece.into())).map_err(|_| io::ErrorKind::BrokenPipe.into())
    }
}
