//! What if another current flowed: where the charge would go, and when it would meet reserve, empty or full.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::deliverable::DeliverableView;
use super::live::Live;
use super::problem::Problem;
use super::view::{AheadView, spans};
use crate::battery::Bank;
use crate::reckoning::{Reckoned, ahead, outlook};

/// At which current.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct OutlookRequest {
    /// The current, A; positive charges.
    #[param(value_type = f64)]
    current_a: Option<String>,
}

/// The outlook at a current, from the present charge and temperature. Fields that mean the same are named as in the
/// bank's `now`.
#[derive(Debug, Serialize, ToSchema)]
pub struct OutlookView {
    /// As asked, A.
    current_a: f64,
    /// Seconds until empty; `null` unless it discharges.
    endurance_s: Option<f64>,
    /// Lower edge.
    endurance_low_s: Option<f64>,
    /// Upper edge.
    endurance_high_s: Option<f64>,
    /// Seconds until the reserve, 0 below it; `null` unless it discharges.
    reserve_s: Option<f64>,
    /// Lower edge.
    reserve_low_s: Option<f64>,
    /// Upper edge.
    reserve_high_s: Option<f64>,
    /// Seconds until full; `null` unless it charges.
    full_s: Option<f64>,
    /// Lower edge.
    full_low_s: Option<f64>,
    /// Upper edge.
    full_high_s: Option<f64>,
    /// Charge that comes out at that current.
    deliverable: DeliverableView,
    /// Where the charge goes.
    ahead: Vec<AheadView>,
}

impl OutlookView {
    fn new(bank: &Bank, present: &Reckoned, current_a: f64) -> OutlookView {
        let state = Reckoned { mean_current_a: Some(current_a), ..*present };
        let (empty, reserve, full) = spans(outlook(bank, &state));
        OutlookView {
            current_a,
            endurance_s: empty.map(|s| s.likely_s),
            endurance_low_s: empty.map(|s| s.low_s),
            endurance_high_s: empty.map(|s| s.high_s),
            reserve_s: reserve.map(|s| s.likely_s),
            reserve_low_s: reserve.map(|s| s.low_s),
            reserve_high_s: reserve.map(|s| s.high_s),
            full_s: full.map(|s| s.likely_s),
            full_low_s: full.map(|s| s.low_s),
            full_high_s: full.map(|s| s.high_s),
            deliverable: DeliverableView::new(bank, &state),
            ahead: ahead(bank, &state).iter().map(AheadView::from).collect(),
        }
    }
}

/// Where the charge would go at a chosen current.
#[utoipa::path(get, path = "/api/v1/banks/{name}/outlook", params(("name" = String, Path, description = "Name of the bank"), OutlookRequest), responses((status = 200, body = OutlookView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn at(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<OutlookRequest>,
) -> Result<Json<OutlookView>, Problem> {
    let index = banks::find(&live, &name)?;
    let bank = &live.banks[index];
    let current_a = checked(bank, request.current_a.as_deref())?;
    Ok(Json(OutlookView::new(bank, &live.latest(index).reckoned, current_a)))
}

fn checked(bank: &Bank, given: Option<&str>) -> Result<f64, Problem> {
    let possible = bank.plausible_current_a;
    let read = given.and_then(|text| text.parse::<f64>().ok());
    read.filter(|current_a| (possible.low..=possible.high).contains(current_a)).ok_or_else(|| {
        let got = given.map_or("nothing".to_owned(), |text| format!("\"{}\"", text.escape_debug()));
        Problem::bad_request(format!(
            "current_a: expected a current from {:.0} to {:.0} A, positive charging, got {got}",
            possible.low, possible.high
        ))
    })
}
