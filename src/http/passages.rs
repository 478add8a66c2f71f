//! Passages of a bank and ledgers of any span: what there is to read.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::live::Live;
use super::problem::Problem;
use crate::battery::{Bank, Branch};
use crate::health::Aboard;
use crate::quantity::UtcMs;
use crate::review::{LedgerView, OnePassageView, PassageView, ledger, one_passage, passages, unreadable_notes};

/// Most passages of an answer.
const MOST: usize = 1000;

/// Which passages.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct PassagesRequest {
    /// Those that reach beyond this time, RFC 3339.
    from: Option<String>,
    /// Those that begin before this time, RFC 3339.
    to: Option<String>,
    /// At most this many, 1 to 1000; 200 if not given.
    limit: Option<usize>,
}

/// Passages, the latest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct PassagesView {
    /// The passages.
    passages: Vec<PassageView>,
}

/// From when to when.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct LedgerRequest {
    /// From here, RFC 3339.
    from: String,
    /// To here, RFC 3339.
    to: String,
}

/// Passages of a bank.
#[utoipa::path(get, path = "/api/v1/banks/{name}/passages", params(("name" = String, Path, description = "Name of the bank"), PassagesRequest), responses((status = 200, body = PassagesView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn list(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<PassagesRequest>,
) -> Result<Json<PassagesView>, Problem> {
    banks::find(&live, &name)?;
    let from = request.from.map(|text| time("from", &text)).transpose()?;
    let to = request.to.map(|text| time("to", &text)).transpose()?;
    let limit = request.limit.unwrap_or(200).clamp(1, MOST);
    let passages = live.readers.with(move |reader| passages(reader, &name, from, to, limit)).await?;
    Ok(Json(PassagesView { passages }))
}

/// One passage, with what went through each branch.
#[utoipa::path(get, path = "/api/v1/banks/{name}/passages/{id}", params(("name" = String, Path, description = "Name of the bank"), ("id" = i64, Path, description = "Number of the passage")), responses((status = 200, body = OnePassageView), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn one(
    State(live): State<Arc<Live>>,
    Path((name, id)): Path<(String, i64)>,
) -> Result<Json<OnePassageView>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let lent = live
        .readers
        .lent(move |reader| {
            let Some(stored) = reader.passage(id)?.filter(|passage| passage.bank == bank.name) else {
                return Ok(None);
            };
            let aboard = Aboard { bank: &bank, branches: &branches };
            Ok(Some((one_passage(reader, &stored, Some(&aboard))?, reader.all_series()?)))
        })
        .await?;
    let (mut view, series) = lent.answer.ok_or_else(|| no_passage(&name, id))?;
    view.notes.extend(unreadable_notes(&lent.unreadable, &series));
    Ok(Json(view))
}

/// What went through a bank and its branches between two times.
#[utoipa::path(get, path = "/api/v1/banks/{name}/ledger", params(("name" = String, Path, description = "Name of the bank"), LedgerRequest), responses((status = 200, body = LedgerView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn span_ledger(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<LedgerRequest>,
) -> Result<Json<LedgerView>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let (from, to) = (time("from", &request.from)?, time("to", &request.to)?);
    if from >= to {
        return Err(Problem::bad_request("from and to: expected from to lie before to"));
    }
    let lent = live
        .readers
        .lent(move |reader| {
            let aboard = Aboard { bank: &bank, branches: &branches };
            Ok((ledger(reader, &aboard, from, to)?, reader.all_series()?))
        })
        .await?;
    let (mut view, series) = lent.answer;
    view.notes.extend(unreadable_notes(&lent.unreadable, &series));
    Ok(Json(view))
}

/// A bank and its branches, to take along to a thread that reads the store.
pub(super) fn aboard(live: &Live, name: &str) -> Result<(Bank, Vec<Branch>), Problem> {
    let bank = live.banks[banks::find(live, name)?].clone();
    let branches = live.branches.iter().filter(|branch| branch.bank == name).cloned().collect();
    Ok((bank, branches))
}

pub(super) fn no_passage(bank: &str, id: i64) -> Problem {
    Problem::not_found(format!("bank \"{bank}\" has no passage {id}; it may have been removed or merged into another"))
}

/// A time of a request.
pub(super) fn time(field: &str, text: &str) -> Result<UtcMs, Problem> {
    // Beyond the year 9999 nothing can be written as RFC 3339.
    let read = text.parse::<jiff::Timestamp>().ok().map(|time| UtcMs(time.as_millisecond())).filter(|time| time.0 >= 0);
    read.ok_or_else(|| {
        Problem::bad_request(format!("{field}: expected RFC 3339 such as 2026-05-01T07:30:00Z, got \"{text}\""))
    })
}
