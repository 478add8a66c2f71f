//! Notes that somebody makes on a span of a bank's record. They stand among its events.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use serde::Deserialize;
use utoipa::ToSchema;

use super::banks;
use super::hand::{OrderedView, read};
use super::live::Live;
use super::passage_edits::{LONGEST_NOTE, ask, check_length};
use super::passages::time;
use super::problem::Problem;
use super::record_order::RecordOrder;
use crate::review::{first_moment, last_moment};
use crate::store::NoteRecord;

/// A note.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct NoteRequest {
    /// From when it is about, RFC 3339.
    from: String,
    /// To when, RFC 3339.
    to: String,
    /// What is noted.
    text: String,
}

/// Keeps a note on a span of the record.
#[utoipa::path(post, path = "/api/v1/banks/{name}/notes", params(("name" = String, Path, description = "Name of the bank")), request_body = NoteRequest, responses((status = 200, body = OrderedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn add(
    State(live): State<Arc<Live>>,
    Path(bank): Path<String>,
    body: Bytes,
) -> Result<Json<OrderedView>, Problem> {
    banks::find(&live, &bank)?;
    let request: NoteRequest = read(&body, "{\"from\": TIME, \"to\": TIME, \"text\": \"...\"}")?;
    let (from, to) = (time("from", &request.from)?, time("to", &request.to)?);
    if from > to {
        return Err(Problem::bad_request("from and to: expected from not to lie after to"));
    }
    let text = request.text.trim().to_owned();
    if text.is_empty() {
        return Err(Problem::bad_request("text: expected what is to be noted"));
    }
    check_length("text", &text, LONGEST_NOTE)?;
    let name = bank.clone();
    let ends = live
        .readers
        .with(move |reader| Ok((first_moment(reader, &name, from, to)?, last_moment(reader, &name, from, to)?)));
    let (from, to) = ends.await?;
    let (from, to) = (from.map_err(Problem::conflict)?, to.map_err(Problem::conflict)?);
    let note = NoteRecord { bank, from, to, text };
    let done = ask(&live, |reply| RecordOrder::Note { note, reply }).await?;
    Ok(Json(OrderedView::new(done.text)))
}
