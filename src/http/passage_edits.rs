//! What somebody says of passages: marks, names, notes, other ends, merged, split, removed. Kept whatever is found later.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

use super::banks;
use super::hand::{self, read};
use super::live::Live;
use super::passages::{no_passage, time};
use super::problem::Problem;
use super::record_order::{RecordDone, RecordOrder, RecordReply};
use crate::quantity::UtcMs;
use crate::review::{first_moment, last_moment, new_ends};
use crate::store::{PassageEdit, StoredPassage};

/// Longest name of a passage, characters.
const LONGEST_NAME: usize = 200;
/// Longest note, characters.
pub(super) const LONGEST_NOTE: usize = 20_000;

/// A passage to mark.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MarkRequest {
    /// From when, RFC 3339.
    begin: String,
    /// To when, RFC 3339.
    end: String,
    /// Its name.
    #[serde(default)]
    name: String,
}

/// What is to be changed; what is not given stays.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangeRequest {
    /// Its name.
    name: Option<String>,
    /// A note on it.
    note: Option<String>,
    /// From when, RFC 3339.
    begin: Option<String>,
    /// To when, RFC 3339.
    end: Option<String>,
}

/// Passages that become one.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct MergeRequest {
    /// Their numbers; the first stays the number of all.
    ids: Vec<i64>,
}

/// Where a passage is cut in two.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct SplitRequest {
    /// When, RFC 3339; within the passage.
    at: String,
}

/// What was done.
#[derive(Debug, Serialize, ToSchema)]
pub struct EditedView {
    /// Number of the passage that was made or changed.
    id: i64,
    /// For people.
    text: String,
}

/// Marks a passage by hand.
#[utoipa::path(post, path = "/api/v1/banks/{name}/passages", params(("name" = String, Path, description = "Name of the bank")), request_body = MarkRequest, responses((status = 200, body = EditedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn mark(
    State(live): State<Arc<Live>>,
    Path(bank): Path<String>,
    body: Bytes,
) -> Result<Json<EditedView>, Problem> {
    banks::find(&live, &bank)?;
    let request: MarkRequest = read(&body, "{\"begin\": TIME, \"end\": TIME} with an optional \"name\"")?;
    let (from, to) = (time("begin", &request.begin)?, time("end", &request.end)?);
    if from >= to {
        return Err(Problem::bad_request("begin and end: expected begin to lie before end"));
    }
    check_length("name", &request.name, LONGEST_NAME)?;
    let name = bank.clone();
    let ends = live
        .readers
        .with(move |reader| Ok((first_moment(reader, &name, from, to)?, last_moment(reader, &name, from, to)?)));
    let (begin, end) = ends.await?;
    let (begin, end) = (begin.map_err(Problem::conflict)?, end.map_err(Problem::conflict)?);
    edit(&live, PassageEdit::Mark { bank, begin, end, name: request.name }).await
}

/// Changes name, note or ends of a passage.
#[utoipa::path(patch, path = "/api/v1/banks/{name}/passages/{id}", params(("name" = String, Path, description = "Name of the bank"), ("id" = i64, Path, description = "Number of the passage")), request_body = ChangeRequest, responses((status = 200, body = EditedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn change(
    State(live): State<Arc<Live>>,
    Path((bank, id)): Path<(String, i64)>,
    body: Bytes,
) -> Result<Json<EditedView>, Problem> {
    let passage = passage(&live, &bank, id).await?;
    let request: ChangeRequest = read(&body, "one or more of \"name\", \"note\", \"begin\", \"end\"")?;
    let ChangeRequest { name, note, begin, end } = request;
    if name.is_none() && note.is_none() && begin.is_none() && end.is_none() {
        return Err(Problem::bad_request("the body: expected one or more of \"name\", \"note\", \"begin\", \"end\""));
    }
    check_length("name", name.as_deref().unwrap_or(""), LONGEST_NAME)?;
    check_length("note", note.as_deref().unwrap_or(""), LONGEST_NOTE)?;
    let begin = begin.map(|text| time("begin", &text)).transpose()?;
    let end = end.map(|text| time("end", &text)).transpose()?;
    let ends = live.readers.with(move |reader| new_ends(reader, &passage, begin, end)).await?;
    let (begin, end) = ends.map_err(Problem::conflict)?;
    edit(&live, PassageEdit::Change { id, name, note, begin, end }).await
}

/// Makes one passage of several.
#[utoipa::path(post, path = "/api/v1/banks/{name}/passages/merge", params(("name" = String, Path, description = "Name of the bank")), request_body = MergeRequest, responses((status = 200, body = EditedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn merge(
    State(live): State<Arc<Live>>,
    Path(bank): Path<String>,
    body: Bytes,
) -> Result<Json<EditedView>, Problem> {
    let MergeRequest { ids } = read(&body, "{\"ids\": [3, 4]}")?;
    let mut each = ids.clone();
    each.sort_unstable();
    each.dedup();
    if each.len() < 2 || each.len() != ids.len() {
        return Err(Problem::bad_request("ids: expected the numbers of two or more passages, each once"));
    }
    for id in each {
        passage(&live, &bank, id).await?;
    }
    edit(&live, PassageEdit::Merge { ids }).await
}

/// Cuts a passage in two; the later part is new.
#[utoipa::path(post, path = "/api/v1/banks/{name}/passages/{id}/split", params(("name" = String, Path, description = "Name of the bank"), ("id" = i64, Path, description = "Number of the passage")), request_body = SplitRequest, responses((status = 200, body = EditedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn split(
    State(live): State<Arc<Live>>,
    Path((bank, id)): Path<(String, i64)>,
    body: Bytes,
) -> Result<Json<EditedView>, Problem> {
    passage(&live, &bank, id).await?;
    let SplitRequest { at } = read(&body, "{\"at\": TIME}")?;
    let at = time("at", &at)?;
    let moment = live.readers.with(move |reader| last_moment(reader, &bank, UtcMs(0), at)).await?;
    edit(&live, PassageEdit::Split { id, at: moment.map_err(Problem::conflict)? }).await
}

/// Says that this is no passage; it is not found again.
#[utoipa::path(delete, path = "/api/v1/banks/{name}/passages/{id}", params(("name" = String, Path, description = "Name of the bank"), ("id" = i64, Path, description = "Number of the passage")), responses((status = 200, body = EditedView), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn remove(
    State(live): State<Arc<Live>>,
    Path((bank, id)): Path<(String, i64)>,
) -> Result<Json<EditedView>, Problem> {
    passage(&live, &bank, id).await?;
    edit(&live, PassageEdit::Remove { id }).await
}

/// The passage of that number, if it is one of this bank.
async fn passage(live: &Live, bank: &str, id: i64) -> Result<StoredPassage, Problem> {
    banks::find(live, bank)?;
    let stored = live.readers.with(move |reader| reader.passage(id)).await?;
    stored.filter(|passage| passage.bank == bank).ok_or_else(|| no_passage(bank, id))
}

pub(super) fn check_length(field: &str, text: &str, longest: usize) -> Result<(), Problem> {
    if text.chars().count() > longest {
        return Err(Problem::bad_request(format!("{field}: expected at most {longest} characters")));
    }
    Ok(())
}

async fn edit(live: &Live, edit: PassageEdit) -> Result<Json<EditedView>, Problem> {
    let RecordDone { id, text } = ask(live, |reply| RecordOrder::Edit { edit, reply }).await?;
    Ok(Json(EditedView { id, text }))
}

/// Sends an order to the task that writes the record, and waits for its answer.
pub(super) async fn ask(live: &Live, order: impl FnOnce(RecordReply) -> RecordOrder) -> Result<RecordDone, Problem> {
    hand::ask(&live.record_orders, order, "the record", "look whether it was done before asking again").await
}
