//! Where the charge goes at a current, and when it meets reserve, empty or full: at the present one, or at one that is asked for.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::deliverable::DeliverableView;
use super::live::Live;
use super::problem::Problem;
use crate::battery::Bank;
use crate::reckoning::{AheadPoint, Outlook, Reckoned, Span, ahead, outlook};

/// At which current.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct OutlookRequest {
    /// The current, A; positive charges.
    #[param(value_type = f64)]
    current_a: Option<String>,
}

/// A point of the picture ahead.
#[derive(Debug, Serialize, ToSchema)]
pub struct AheadView {
    /// Seconds from now.
    t_s: f64,
    /// Likely state of charge.
    soc: f64,
    /// Lower edge of the 95 % band.
    soc_low: f64,
    /// Upper edge.
    soc_high: f64,
}

/// What follows if a current goes on, from the present charge and temperature.
#[derive(Debug, Serialize, ToSchema)]
pub struct OutlookView {
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
    /// The outlook at the mean current of a state.
    pub(super) fn new(bank: &Bank, state: &Reckoned) -> OutlookView {
        let (empty, reserve, full) = spans(outlook(bank, state));
        OutlookView {
            endurance_s: empty.map(|s| s.likely_s),
            endurance_low_s: empty.map(|s| s.low_s),
            endurance_high_s: empty.map(|s| s.high_s),
            reserve_s: reserve.map(|s| s.likely_s),
            reserve_low_s: reserve.map(|s| s.low_s),
            reserve_high_s: reserve.map(|s| s.high_s),
            full_s: full.map(|s| s.likely_s),
            full_low_s: full.map(|s| s.low_s),
            full_high_s: full.map(|s| s.high_s),
            deliverable: DeliverableView::new(bank, state),
            ahead: ahead(bank, state).iter().map(AheadView::from).collect(),
        }
    }
}

impl From<&AheadPoint> for AheadView {
    fn from(point: &AheadPoint) -> AheadView {
        AheadView { t_s: point.t_s, soc: point.soc, soc_low: point.band.low, soc_high: point.band.high }
    }
}

/// (until empty, until the reserve, until full), as far as they mean anything.
fn spans(outlook: Outlook) -> (Option<Span>, Option<Span>, Option<Span>) {
    match outlook {
        Outlook::Rest => (None, None, None),
        Outlook::Falling(lasts) => (Some(lasts.empty), Some(lasts.reserve), None),
        Outlook::Rising(full) => (None, None, Some(full)),
    }
}

/// The outlook at a current that was asked for.
#[derive(Debug, Serialize, ToSchema)]
pub struct WhatIfView {
    /// As asked, A.
    current_a: f64,
    #[serde(flatten)]
    outlook: OutlookView,
}

/// Where the charge would go at a chosen current.
#[utoipa::path(get, path = "/api/v1/banks/{name}/outlook", params(("name" = String, Path, description = "Name of the bank"), OutlookRequest), responses((status = 200, body = WhatIfView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn at(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<OutlookRequest>,
) -> Result<Json<WhatIfView>, Problem> {
    let index = banks::find(&live, &name)?;
    let bank = &live.banks[index];
    let current_a = checked(bank, request.current_a.as_deref())?;
    let state = Reckoned { mean_current_a: Some(current_a), ..live.latest(index).reckoned };
    Ok(Json(WhatIfView { current_a, outlook: OutlookView::new(bank, &state) }))
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
