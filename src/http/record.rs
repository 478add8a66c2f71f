//! The health record of a bank.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use jiff::tz::TimeZone;

use super::live::Live;
use super::passages::aboard;
use super::problem::Problem;
use crate::health::Aboard;
use crate::review::record::{RecordView, record};
use crate::review::unreadable_notes;

/// The health record: capacity and its fade, tests, resistance, balance, use, cycles, stress, advice.
#[utoipa::path(get, path = "/api/v1/banks/{name}/record", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = RecordView), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn bank_record(State(live): State<Arc<Live>>, Path(name): Path<String>) -> Result<Json<RecordView>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let zone = TimeZone::get(&live.zone).unwrap_or(TimeZone::UTC);
    let lent = live
        .readers
        .lent(move |reader| {
            let aboard = Aboard { bank: &bank, branches: &branches };
            Ok((record(reader, &aboard, &zone)?, reader.all_series()?))
        })
        .await?;
    let (mut view, series) = lent.answer;
    view.notes.extend(unreadable_notes(&lent.unreadable, &series));
    Ok(Json(view))
}
