//! How long it lasts at a load of somebody's choosing.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::live::Live;
use super::problem::Problem;
use super::words::{current, durations};
use super::{banks, deliverable};
use crate::battery::Bank;
use crate::quantity::Band;
use crate::reckoning::{Endurance, Reckoned, deliverable as charge_out, endurance as lasts};

/// At which load.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct EnduranceRequest {
    /// The load, A, greater than 0 and possible for the bank.
    #[param(value_type = f64)]
    load_a: Option<String>,
}

/// Endurance at a load, from the present charge and temperature.
#[derive(Debug, Serialize, ToSchema)]
pub struct EnduranceView {
    /// As asked, A.
    load_a: f64,
    /// Temperature it is reckoned for, °C; `null` where none was ever reported (25 °C is taken).
    temperature_c: Option<f64>,
    /// Seconds until the cut-off at that load.
    empty_s: f64,
    /// Lower edge.
    empty_low_s: f64,
    /// Upper edge.
    empty_high_s: f64,
    /// Seconds until the reserve, or the cut-off where that comes first; 0 below the reserve.
    reserve_s: f64,
    /// Lower edge.
    reserve_low_s: f64,
    /// Upper edge.
    reserve_high_s: f64,
    /// Charge that comes out until the cut-off, Ah.
    deliverable_ah: f64,
    /// Lower edge.
    deliverable_low_ah: f64,
    /// Upper edge.
    deliverable_high_ah: f64,
    /// The same for people.
    text: String,
}

/// Endurance at a chosen load.
#[utoipa::path(get, path = "/api/v1/banks/{name}/endurance", params(("name" = String, Path, description = "Name of the bank"), EnduranceRequest), responses((status = 200, body = EnduranceView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn endurance(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<EnduranceRequest>,
) -> Result<Json<EnduranceView>, Problem> {
    let index = banks::find(&live, &name)?;
    let bank = &live.banks[index];
    let load_a = checked_load(bank, request.load_a.as_deref())?;
    let state = &live.latest(index).reckoned;
    let Endurance { empty, reserve } = lasts(bank, state, load_a);
    let (deliverable_ah, band) = charge_out(bank, state, load_a);
    Ok(Json(EnduranceView {
        load_a,
        temperature_c: state.temperature_c,
        empty_s: empty.likely_s,
        empty_low_s: empty.low_s,
        empty_high_s: empty.high_s,
        reserve_s: reserve.likely_s,
        reserve_low_s: reserve.low_s,
        reserve_high_s: reserve.high_s,
        deliverable_ah,
        deliverable_low_ah: band.low,
        deliverable_high_ah: band.high,
        text: text(state, load_a, (deliverable_ah, band), &Endurance { empty, reserve }),
    }))
}

fn checked_load(bank: &Bank, given: Option<&str>) -> Result<f64, Problem> {
    let most_a = bank.plausible_current_a.high.max(-bank.plausible_current_a.low);
    let load_a = given.and_then(|text| text.parse::<f64>().ok()).filter(|load_a| *load_a > 0.0 && *load_a <= most_a);
    load_a.ok_or_else(|| {
        let got = given.map_or("nothing".to_owned(), |text| format!("\"{}\"", text.escape_debug()));
        Problem::bad_request(format!("load_a: expected a load in A, greater than 0 and at most {most_a:.0}, got {got}"))
    })
}

fn text(state: &Reckoned, load_a: f64, (charge_ah, band): (f64, Band), lasts: &Endurance) -> String {
    let out = deliverable::at_load(state, load_a, charge_ah, band);
    if lasts.empty.high_s <= 0.0 {
        return out;
    }
    let empty = durations(lasts.empty.low_s, lasts.empty.high_s);
    let until = if lasts.reserve.high_s <= 0.0 {
        format!("The charge is below the reserve; at {} the bank is empty in {empty}.", current(load_a))
    } else {
        let reserve = durations(lasts.reserve.low_s, lasts.reserve.high_s);
        format!("At {} the reserve is reached in {reserve} and the bank is empty in {empty}.", current(load_a))
    };
    format!("{until} {out}")
}
