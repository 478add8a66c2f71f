//! The devices one by one: how each fares, what it says now, and what was counted of its faults.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use serde::Serialize;
use utoipa::ToSchema;

use super::live::{DeviceWatch, Live};
use super::view::state_word;
use crate::link::{BadLine, Tally};

/// A channel of a device.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceChannelView {
    /// Its name; the suffix says the unit.
    name: String,
    /// Symbol of the unit.
    unit: &'static str,
    /// Its value in the last sample; `null` where that had none, or before the first.
    value: Option<f64>,
    /// Values since the start that were no finite number.
    unreadable: u64,
    /// Values since the start outside what is possible.
    out_of_range: u64,
}

/// Lines that were refused for one reason.
#[derive(Debug, Serialize, ToSchema)]
pub struct BadLinesView {
    /// Why, for people.
    reason: String,
    /// How many since the start.
    count: u64,
}

/// A device.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceDetail {
    /// Its name.
    name: String,
    /// Its bank.
    bank: String,
    /// Whether it is the bank's main sensor.
    main: bool,
    /// Path of its port.
    port: String,
    /// Bits per second.
    baud: u32,
    /// How it lays out a line: `json-lines` or `delimited`.
    frame: &'static str,
    /// `live`, `silent` (open, nothing comes), `closed` (the port is gone) or `waiting` (nothing yet).
    state: &'static str,
    /// Why it is not live, with the next step.
    reason: Option<String>,
    /// Seconds since the last sample.
    quiet_s: Option<f64>,
    /// Seconds without a sample after which it is called silent.
    quiet_after_s: f64,
    /// Bytes read since the start.
    bytes: u64,
    /// Complete lines since the start.
    lines: u64,
    /// Samples since the start.
    samples: u64,
    /// Samples lost since the start because the store was too slow.
    lost: u64,
    /// Lines since the start that were longer than any line may be.
    overlong: u64,
    /// Lines that were refused, by reason; reasons that never occurred are left out.
    bad_lines: Vec<BadLinesView>,
    /// How often the port had to be opened again.
    reopened: u64,
    /// The last line that was refused, with the reason.
    last_bad: Option<String>,
    /// The last value that was refused, with channel and reason.
    last_refused: Option<String>,
    /// Its channels.
    channels: Vec<DeviceChannelView>,
}

/// All devices.
#[derive(Debug, Serialize, ToSchema)]
pub struct DevicesView {
    /// In the order of the configuration.
    devices: Vec<DeviceDetail>,
}

/// All devices, with what each says now.
#[utoipa::path(get, path = "/api/v1/devices", responses((status = 200, body = DevicesView)))]
pub async fn list(State(live): State<Arc<Live>>) -> Json<DevicesView> {
    let devices = live.devices.iter().enumerate().map(|(place, device)| detail(&live, place, device)).collect();
    Json(DevicesView { devices })
}

fn detail(live: &Live, place: usize, device: &DeviceWatch) -> DeviceDetail {
    let status = device.status.borrow();
    let Tally { bytes, lines, samples, lost, overlong, opened, .. } = status.tally;
    let latest = live.heard(place);
    let refused = |at: usize| status.tally.refused.get(at).copied().unwrap_or_default();
    let channel = |(at, channel): (usize, &crate::quantity::Channel)| DeviceChannelView {
        name: channel.name().to_owned(),
        unit: channel.unit().symbol(),
        value: latest.as_ref().and_then(|reading| reading.values.get(at).copied().flatten()),
        unreadable: refused(at).unreadable,
        out_of_range: refused(at).out_of_range,
    };
    let bad = BadLine::ALL.into_iter().map(|reason| (reason, status.tally.bad.of(reason)));
    DeviceDetail {
        name: device.name.clone(),
        bank: device.bank.clone(),
        main: device.main,
        port: device.port.clone(),
        baud: device.baud,
        frame: device.frame,
        state: state_word(status.state),
        reason: status.reason.clone(),
        quiet_s: status.quiet_for_s(live.clock.mono()),
        quiet_after_s: device.quiet_after_s,
        bytes,
        lines,
        samples,
        lost,
        overlong,
        bad_lines: bad
            .filter(|(_, count)| *count > 0)
            .map(|(reason, count)| BadLinesView { reason: reason.to_string(), count })
            .collect(),
        reopened: opened.saturating_sub(1),
        last_bad: status.last_bad.clone(),
        last_refused: status.last_refused.clone(),
        channels: device.channels.iter().enumerate().map(channel).collect(),
    }
}
