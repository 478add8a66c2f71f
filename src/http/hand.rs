//! Hand orders: somebody aboard states the charge, or that no current flows.
//!
//! They change what is reckoned from now on; `permit` says who may.

use std::ops::RangeInclusive;
use std::sync::Arc;
use std::time::Duration;

use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use tokio::sync::{mpsc, oneshot};
use utoipa::ToSchema;

use super::banks;
use super::live::Live;
use super::order::{Order, OrderKind};
use super::problem::Problem;

/// 1 σ of a stated charge where none is given: what an attentive person means by "about" (assumed).
const USUAL_STD_DEV: f64 = 0.02;
/// What 1 σ may be: nobody knows better than a full fix does, and a fifth is next to nothing known.
const STD_DEVS: RangeInclusive<f64> = 0.002..=0.2;
/// The reckoning, or the clock, answers within a sample or two; this is for a machine that is starved.
const PATIENCE: Duration = Duration::from_secs(20);

/// Somebody knows the charge.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct FixRequest {
    /// State of charge, 0..1.
    soc: f64,
    /// 1 σ of that knowledge, 0.002..0.2; 0.02 if not given.
    std_dev: Option<f64>,
}

/// Nothing needs saying: `{}`.
#[derive(Debug, Default, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ZeroRequest {}

/// What was done.
#[derive(Debug, Serialize, ToSchema)]
pub struct OrderedView {
    /// For people.
    text: String,
}

impl OrderedView {
    /// Says what was done.
    pub(super) const fn new(text: String) -> OrderedView {
        OrderedView { text }
    }
}

/// A hand fix: the reckoning starts anew from a stated charge. It is logged as a fix by hand.
#[utoipa::path(post, path = "/api/v1/banks/{name}/fixes", params(("name" = String, Path, description = "Name of the bank")), request_body = FixRequest, responses((status = 200, body = OrderedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn fix(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    body: Bytes,
) -> Result<Json<OrderedView>, Problem> {
    let bank = banks::find(&live, &name)?;
    let FixRequest { soc, std_dev } = read(&body, "{\"soc\": 0.8} with an optional \"std_dev\"")?;
    if !(0.0..=1.0).contains(&soc) {
        return Err(Problem::bad_request(format!("soc: expected a ratio from 0 to 1 such as 0.8, got {soc}")));
    }
    let std_dev = std_dev.unwrap_or(USUAL_STD_DEV);
    if !STD_DEVS.contains(&std_dev) {
        let (least, most) = (STD_DEVS.start(), STD_DEVS.end());
        return Err(Problem::bad_request(format!("std_dev: expected a ratio from {least} to {most}, got {std_dev}")));
    }
    order(&live, bank, OrderKind::Fix { soc, std_dev }).await
}

/// A hand zero: no current flows now, so what the sensor reads is its offset. It is logged as an event.
#[utoipa::path(post, path = "/api/v1/banks/{name}/zero", params(("name" = String, Path, description = "Name of the bank")), request_body = ZeroRequest, responses((status = 200, body = OrderedView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn zero(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    body: Bytes,
) -> Result<Json<OrderedView>, Problem> {
    let bank = banks::find(&live, &name)?;
    if !body.is_empty() {
        let ZeroRequest {} = read(&body, "{}")?;
    }
    order(&live, bank, OrderKind::Zero).await
}

async fn order(live: &Live, bank: usize, kind: OrderKind) -> Result<Json<OrderedView>, Problem> {
    let order = |reply| Order { bank, kind, reply };
    let done = ask(&live.orders, order, "the reckoning", "look at the log before asking again").await?;
    Ok(Json(OrderedView { text: done.text }))
}

/// Sends an order to the task that `who` names, and waits for its answer; `doubt` says what to do where there is none.
pub(super) async fn ask<O, D>(
    orders: &mpsc::Sender<O>,
    order: impl FnOnce(oneshot::Sender<Result<D, String>>) -> O,
    who: &str,
    doubt: &str,
) -> Result<D, Problem> {
    answered(orders, order, &format!("{who} takes no orders now"), &format!("{who} did not answer; {doubt}"))
        .await?
        .map_err(Problem::conflict)
}

/// Sends an order and waits for whatever is answered; `busy` and `silent` say that none was taken, or none answered.
pub(super) async fn answered<O, A>(
    orders: &mpsc::Sender<O>,
    order: impl FnOnce(oneshot::Sender<A>) -> O,
    busy: &str,
    silent: &str,
) -> Result<A, Problem> {
    let (reply, answer) = oneshot::channel();
    let taken = orders.try_send(order(reply));
    taken.map_err(|_| Problem::unavailable(format!("{busy}; try again in a moment")))?;
    match tokio::time::timeout(PATIENCE, answer).await {
        Ok(Ok(answer)) => Ok(answer),
        Ok(Err(_)) | Err(_) => Err(Problem::unavailable(silent)),
    }
}

pub(super) fn read<T: DeserializeOwned>(body: &[u8], expected: &str) -> Result<T, Problem> {
    serde_json::from_slice(body)
        .map_err(|cause| Problem::bad_request(format!("the body: expected {expected}; {cause}")))
}
