//! The time, stated by somebody aboard: for a boat whose computer has no clock chip and no network.
//!
//! It says what time it is for the running boot, and moves every sample of that boot with it. The computer's own clock is
//! not touched.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::State;
use serde::{Deserialize, Serialize};
use tokio::sync::oneshot;
use utoipa::ToSchema;

use super::hand::{answered, read};
use super::live::Live;
use super::problem::Problem;
use crate::clock::{HandRefused, HandTime};
use crate::quantity::UtcMs;

/// What time it is.
#[derive(Debug, Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
pub struct ClockRequest {
    /// The time now, RFC 3339 such as `2026-12-01T07:30:00Z`.
    time: String,
    /// True where it is known that the record of earlier boots, behind which this time lies, is the one that is wrong.
    #[serde(default)]
    even_so: bool,
}

/// What was done.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, ToSchema)]
pub struct ClockSet {
    /// For people.
    pub text: String,
    /// By how much times since the computer started have moved, ms; positive: they are later than before.
    pub moved_ms: i64,
}

/// A time on its way from a request to the task that keeps the clock.
#[derive(Debug)]
pub struct ClockOrder {
    /// What time it is, and when that was said.
    pub stated: HandTime,
    /// Where the answer goes.
    pub reply: oneshot::Sender<Result<ClockSet, HandRefused>>,
}

/// Sets the time by hand: all samples since the computer started move with it. It is logged as an event.
#[utoipa::path(post, path = "/api/v1/clock", request_body = ClockRequest, responses((status = 200, body = ClockSet), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 403, body = Problem, content_type = "application/problem+json"), (status = 409, body = Problem, content_type = "application/problem+json"), (status = 415, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn set(State(live): State<Arc<Live>>, body: Bytes) -> Result<Json<ClockSet>, Problem> {
    let mono = live.clock.mono();
    let ClockRequest { time, even_so } = read(&body, "{\"time\": \"2026-12-01T07:30:00Z\"}")?;
    let utc = time.parse::<jiff::Timestamp>().map_err(|_| {
        Problem::bad_request(format!("time: expected RFC 3339 such as 2026-12-01T07:30:00Z, got \"{time}\""))
    })?;
    let stated = HandTime { mono, utc: UtcMs(utc.as_millisecond()), even_so };
    let order = |reply| ClockOrder { stated, reply };
    let silent = "the clock did not answer; look at the log before asking again";
    match answered(&live.clock_orders, order, "the clock cannot be set now", silent).await? {
        Ok(done) => Ok(Json(done)),
        Err(refused @ HandRefused::Impossible) => Err(Problem::bad_request(refused.to_string())),
        Err(refused @ HandRefused::BehindRecord { .. }) => {
            Err(Problem::conflict(refused.to_string()).unless("even_so"))
        }
        Err(refused) => Err(Problem::conflict(refused.to_string())),
    }
}
