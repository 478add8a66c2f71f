//! The capacity test of a bank: how it stands, and its start and stop by hand.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use serde::Deserialize;
use utoipa::ToSchema;

use super::banks;
use super::hand::{OrderedView, read};
use super::live::Live;
use super::passage_edits::ask;
use super::passages::aboard;
use super::problem::Problem;
use super::record_order::{RecordOrder, TestWish};
use crate::health::Aboard;
use crate::review::record::{TrialView, trial};

/// What is to be done.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(tag = "action", rename_all = "lowercase", deny_unknown_fields)]
pub enum TestRequest {
    /// Starts a test.
    Start {
        /// The constant load, A.
        load_a: f64,
        /// Bank voltage at which it ends, V; that of the chemistry if not given.
        cut_off_v: Option<f64>,
        /// True to start although a precondition is not met; the result says so.
        #[serde(default)]
        anyway: bool,
    },
    /// Stops the one that is running.
    Stop,
}

/// How the capacity test of a bank stands, what it takes to start one, and past ones.
#[utoipa::path(get, path = "/api/v1/banks/{name}/test", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = TrialView), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn standing(State(live): State<Arc<Live>>, Path(name): Path<String>) -> Result<Json<TrialView>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let view = live.readers.with(move |reader| trial(reader, &Aboard { bank: &bank, branches: &branches })).await?;
    Ok(Json(view))
}

/// Starts or stops the capacity test of a bank.
#[utoipa::path(post, path = "/api/v1/banks/{name}/test", params(("name" = String, Path, description = "Name of the bank")), request_body = TestRequest, responses((status = 200, body = OrderedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn order(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    body: Bytes,
) -> Result<Json<OrderedView>, Problem> {
    banks::find(&live, &name)?;
    let expected = "{\"action\": \"start\", \"load_a\": 6.0} or {\"action\": \"stop\"}";
    let done = match read(&body, expected)? {
        TestRequest::Stop => ask(&live, |reply| RecordOrder::StopTest { bank: name, reply }).await?,
        TestRequest::Start { load_a, cut_off_v, anyway } => {
            check_wish(&live, &name, load_a, cut_off_v)?;
            let wish = TestWish { load_a, cut_off_v, anyway };
            let bank = name.clone();
            match ask(&live, |reply| RecordOrder::StartTest { bank, wish, reply }).await {
                Err(refused) if !anyway && is_unready(&live, &name).await? => return Err(refused.unless("anyway")),
                done => done?,
            }
        }
    };
    Ok(Json(OrderedView::new(done.text)))
}

/// Refuses a load or a cut-off that no bank like this can have.
fn check_wish(live: &Live, name: &str, load_a: f64, cut_off_v: Option<f64>) -> Result<(), Problem> {
    let bank = &live.banks[banks::find(live, name)?];
    let most_a = 0.0 - bank.plausible_current_a.low;
    if !(load_a > 0.0 && load_a <= most_a) {
        return Err(Problem::bad_request(format!("load_a: expected a load from 0 to {most_a:.0} A, got {load_a}")));
    }
    let (low, high) = (bank.plausible_voltage_v.low, bank.plausible_voltage_v.high);
    match cut_off_v {
        Some(volts) if !(volts > low && volts < high) => Err(Problem::bad_request(format!(
            "cut_off_v: expected a voltage of the whole bank between {low} and {high} V, got {volts}"
        ))),
        _ => Ok(()),
    }
}

/// True if the bank was heard of and a precondition is not met: a reason to think again, which somebody may set aside.
async fn is_unready(live: &Live, name: &str) -> Result<bool, Problem> {
    let (bank, branches) = aboard(live, name)?;
    let unready = live.readers.with(move |reader| {
        let view = trial(reader, &Aboard { bank: &bank, branches: &branches })?;
        let unmet = view.preconditions.iter().any(|one| one.needed && !one.met);
        Ok(view.running.is_none() && unmet && reader.survey(&bank.name)?.is_some())
    });
    unready.await
}
