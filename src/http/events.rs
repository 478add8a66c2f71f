//! What happened, and how the daemon itself fares.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Query, State};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::live::{DeviceWatch, Live};
use super::problem::Problem;
use super::view::{EventView, state_word};
use crate::link::PortState;

/// How many events.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct EventsRequest {
    /// At most this many, 1 to 1000; 50 if not given.
    limit: Option<usize>,
}

/// Events, the latest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct EventsView {
    /// The events.
    events: Vec<EventView>,
}

/// Wall time.
#[derive(Debug, Serialize, ToSchema)]
pub struct ClockView {
    /// Whether it can be believed.
    trusted: bool,
    /// How far: `untrusted`, `plausible` (nothing vouches for it), `hand` (set by a person) or `synchronised`.
    trust: &'static str,
}

/// The store.
#[derive(Debug, Serialize, ToSchema)]
pub struct StoreView {
    /// `ok` or `trouble`.
    status: &'static str,
    /// What the trouble is.
    trouble: Option<String>,
    /// Size of the file, bytes.
    bytes: u64,
    /// Samples that a power cut would cost now.
    waiting: usize,
    /// The longest that a sample has waited to be made safe, since the start, s.
    longest_wait_s: f64,
    /// Samples thinned out since the start because nothing could be written for too long; their summaries are whole.
    thinned: u64,
    /// Samples and records lost since the start because nothing could be written for too long, or because the store was
    /// too slow.
    lost: u64,
}

/// How a device fares.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceHealth {
    /// Its name.
    name: String,
    /// Its bank.
    bank: String,
    /// `live`, `silent`, `closed` or `waiting`.
    state: &'static str,
    /// Why it is not live, with the next step.
    reason: Option<String>,
    /// Seconds since the last sample.
    quiet_s: Option<f64>,
    /// Samples since the start.
    samples: u64,
    /// Lines since the start that could not be read.
    bad_lines: u64,
    /// Values since the start that were refused: no number, or outside what is possible.
    refused: u64,
    /// Samples lost since the start because the store was too slow.
    lost: u64,
    /// How often the port had to be opened again.
    reopened: u64,
}

/// The daemon's own health.
#[derive(Debug, Serialize, ToSchema)]
pub struct HealthView {
    /// `ok`, or `degraded` if a device is not live, the store is in trouble or the clock cannot be believed.
    status: &'static str,
    /// Version of the program.
    version: &'static str,
    /// Its licence, as an SPDX expression.
    licence: &'static str,
    /// Seconds since the start.
    uptime_s: f64,
    /// Wall time.
    clock: ClockView,
    /// The store.
    store: StoreView,
    /// The devices.
    devices: Vec<DeviceHealth>,
}

/// Latest events, the newest first.
#[utoipa::path(get, path = "/api/v1/events", params(EventsRequest), responses((status = 200, body = EventsView), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn events(
    State(live): State<Arc<Live>>,
    Query(request): Query<EventsRequest>,
) -> Result<Json<EventsView>, Problem> {
    let limit = request.limit.unwrap_or(50).clamp(1, 1000);
    let stored = live.readers.with(move |reader| reader.latest_events(limit)).await?;
    Ok(Json(EventsView { events: stored.into_iter().map(EventView::new).collect() }))
}

/// Health of the daemon itself.
#[utoipa::path(get, path = "/api/v1/health", responses((status = 200, body = HealthView)))]
pub async fn health(State(live): State<Arc<Live>>) -> Json<HealthView> {
    let store = (live.store)();
    let devices: Vec<DeviceHealth> = live.devices.iter().map(|device| device_health(&live, device)).collect();
    let well = store.trouble.is_none()
        && live.time.is_trusted()
        && live.devices.iter().all(|device| device.status.borrow().state == PortState::Live);
    Json(HealthView {
        status: if well { "ok" } else { "degraded" },
        version: env!("CARGO_PKG_VERSION"),
        licence: env!("CARGO_PKG_LICENSE"),
        uptime_s: live.clock.mono().seconds_since(live.started),
        clock: ClockView { trusted: live.time.is_trusted(), trust: live.time.trust().word() },
        store: StoreView {
            status: if store.trouble.is_none() { "ok" } else { "trouble" },
            bytes: live.readers.bytes(),
            waiting: store.waiting,
            longest_wait_s: store.longest_wait.as_secs_f64(),
            thinned: store.report.thinned,
            lost: store.report.lost + store.overrun,
            trouble: store.trouble,
        },
        devices,
    })
}

fn device_health(live: &Live, device: &DeviceWatch) -> DeviceHealth {
    let status = device.status.borrow();
    let tally = &status.tally;
    DeviceHealth {
        name: device.name.clone(),
        bank: device.bank.clone(),
        state: state_word(status.state),
        reason: status.reason.clone(),
        quiet_s: status.quiet_for_s(live.clock.mono()),
        samples: tally.samples,
        bad_lines: tally.bad.total().saturating_add(tally.overlong),
        refused: tally.refused_total(),
        lost: tally.lost,
        reopened: tally.opened.saturating_sub(1),
    }
}
