//! A bank as its configuration describes it, complete: every value that is reckoned with, stated or taken from the
//! chemistry's preset.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use serde::Serialize;
use utoipa::ToSchema;

use super::banks::{self, BankFacts};
use super::live::Live;
use super::problem::Problem;
use crate::battery::{Bank, RateSource};

/// A capacity at a rate.
#[derive(Debug, Serialize, ToSchema)]
pub struct RateView {
    /// Hours to the cut-off.
    hours: f64,
    /// Charge given, Ah.
    capacity_ah: f64,
}

/// When the bank counts as full.
#[derive(Debug, Serialize, ToSchema)]
pub struct FullView {
    /// Voltage at 25 °C that is reached or exceeded, V.
    voltage_v: f64,
    /// Change of that voltage with temperature, V/K.
    compensation_v_per_k: f64,
    /// No more current than this is taken, A.
    tail_current_a: f64,
    /// How long both hold, s.
    hold_s: f64,
}

/// A bank as described.
#[derive(Debug, Serialize, ToSchema)]
pub struct DescriptionView {
    #[serde(flatten)]
    facts: BankFacts,
    /// Capacities at other rates, the fastest first; empty where an exponent says them.
    rates: Vec<RateView>,
    /// Peukert exponent; `null` where rates say it.
    peukert_exponent: Option<f64>,
    /// Whether nothing was said of how the bank takes to rates, so that the exponent is the chemistry's usual one.
    rates_assumed: bool,
    /// How it is reckoned: `filter` or `counter`.
    method: &'static str,
    /// 1 σ of the current sensor's gain, ratio.
    sensor_gain_error: f64,
    /// 1 σ of the current sensor's offset, A.
    sensor_offset_a: f64,
    /// Greatest load that could run while nobody looks, A.
    standing_load_a: f64,
    /// Law for what temperature does to the charge that comes out.
    temperature_law: &'static str,
    /// When it counts as full.
    full: FullView,
}

/// A bank as described in the configuration, with what was left to the preset filled in.
#[utoipa::path(get, path = "/api/v1/banks/{name}/description", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = DescriptionView), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn description(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
) -> Result<Json<DescriptionView>, Problem> {
    let index = banks::find(&live, &name)?;
    Ok(Json(view(&live.banks[index], live.latest(index).method.word())))
}

fn view(bank: &Bank, method: &'static str) -> DescriptionView {
    let (rates, peukert_exponent) = match bank.rate_curve.source() {
        RateSource::Exponent(exponent) => (Vec::new(), Some(*exponent)),
        RateSource::Table(table) => {
            (table.iter().map(|&(hours, capacity_ah)| RateView { hours, capacity_ah }).collect(), None)
        }
    };
    let full = &bank.full;
    DescriptionView {
        facts: bank.into(),
        rates,
        peukert_exponent,
        rates_assumed: bank.takes_rates_of_preset(),
        method,
        sensor_gain_error: bank.sensor.gain,
        sensor_offset_a: bank.sensor.offset_a,
        standing_load_a: bank.standing_load_a,
        temperature_law: bank.temperature_law.title(),
        full: FullView {
            voltage_v: full.voltage_v,
            compensation_v_per_k: full.compensation_v_per_k,
            tail_current_a: full.tail_current_a,
            hold_s: full.hold_s,
        },
    }
}
