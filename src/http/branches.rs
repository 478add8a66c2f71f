//! The branches of a bank: what they are, and what each has carried lately, to ask "what if" by.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use serde::Serialize;
use utoipa::ToSchema;

use super::live::Live;
use super::passages::aboard;
use super::problem::Problem;
use crate::battery::{Branch, BranchChannel, Role};
use crate::quantity::UtcMs;
use crate::review::series_of;
use crate::store::{HistoryQuery, Reader, Result, SeriesKind};

const HOUR_MS: i64 = 3_600_000;
const DAY_MS: i64 = 24 * HOUR_MS;
/// The past that says what a branch can carry: a month has seen most of what happens aboard (assumed).
const PAST_MS: i64 = 30 * DAY_MS;
/// Over this long a current counts as carried, not as a start or a burst (assumed).
const CARRIED_MS: i64 = 10 * 60_000;

/// A branch as described.
#[derive(Debug, Serialize, ToSchema)]
pub struct BranchDescription {
    /// Name in addresses.
    name: String,
    /// Name for people.
    title: String,
    /// `source` or `load`.
    role: &'static str,
    /// `drive`, `shore` or `other`.
    purpose: &'static str,
    /// Device that reads it; `null` where it is what the others leave of the bank's current.
    device: Option<String>,
    /// Channel that reads it.
    channel: Option<String>,
    /// Whether a positive reading discharges the bank.
    reversed: bool,
}

impl From<&Branch> for BranchDescription {
    fn from(branch: &Branch) -> BranchDescription {
        let read = branch.channel.as_ref();
        BranchDescription {
            name: branch.name.clone(),
            title: branch.title.clone(),
            role: branch.role.word(),
            purpose: branch.purpose.word(),
            device: read.map(|read| read.device.clone()),
            channel: read.map(|read| read.channel.clone()),
            reversed: read.is_some_and(|read| read.reversed),
        }
    }
}

/// What a branch carries and has carried.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarriedView {
    /// Its name.
    name: String,
    /// Its name for people.
    title: String,
    /// `source` or `load`.
    role: &'static str,
    /// `drive`, `shore` or `other`.
    purpose: &'static str,
    /// Mean current over the last ten minutes, A; positive charges the bank. `null` without samples.
    now_a: Option<f64>,
    /// The most that it has carried for ten minutes on end in the last 30 days, A, not negative; `null` without samples.
    most_a: Option<f64>,
}

/// What the branches carry.
#[derive(Debug, Serialize, ToSchema)]
pub struct CarryingView {
    /// The branches that have a sensor, in the order of the configuration.
    branches: Vec<CarriedView>,
}

/// What each branch of a bank carries now, and at the most.
#[utoipa::path(get, path = "/api/v1/banks/{name}/branches", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = CarryingView), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn carrying(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
) -> std::result::Result<Json<CarryingView>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let present = live.time.utc(live.clock.mono());
    let views = live.readers.with(move |reader| {
        let read = branches.iter().filter_map(|branch| Some((branch, branch.channel.as_ref()?)));
        read.map(|(branch, channel)| carried(reader, &bank.name, branch, channel, present)).collect()
    });
    Ok(Json(CarryingView { branches: views.await? }))
}

fn carried(
    reader: &Reader,
    bank: &str,
    branch: &Branch,
    channel: &BranchChannel,
    present: UtcMs,
) -> Result<CarriedView> {
    let past = means(reader, bank, channel, UtcMs(present.0 - PAST_MS), present, PAST_MS / CARRIED_MS)?;
    let now = means(reader, bank, channel, UtcMs(present.0 - CARRIED_MS), present, 1)?;
    let towards = match branch.role {
        Role::Source => 1.0,
        Role::Load => -1.0,
    };
    Ok(CarriedView {
        name: branch.name.clone(),
        title: branch.title.clone(),
        role: branch.role.word(),
        purpose: branch.purpose.word(),
        now_a: (!now.is_empty()).then(|| now.iter().sum::<f64>() / now.len() as f64),
        most_a: past.iter().map(|current_a| towards * current_a).reduce(f64::max).map(|most| most.max(0.0)),
    })
}

/// Mean currents of a branch in about so many bins, A; positive charges the bank. Bins without samples are left out.
fn means(
    reader: &Reader,
    bank: &str,
    channel: &BranchChannel,
    from: UtcMs,
    to: UtcMs,
    points: i64,
) -> Result<Vec<f64>> {
    let mut found = Vec::new();
    let towards = if channel.reversed { -1.0 } else { 1.0 };
    let devices = series_of(reader, bank, SeriesKind::Device)?;
    let has = |name: &str, channels: &[String]| name == channel.device && channels.contains(&channel.channel);
    for series in devices.iter().filter(|series| has(&series.name, &series.channels)) {
        let points = usize::try_from(points).unwrap_or(1);
        let query = HistoryQuery { series: series.id, channels: vec![channel.channel.clone()], from, to, points };
        let history = reader.history(&query)?;
        found.extend(history.channels.iter().flat_map(|c| &c.mean).flatten().map(|current_a| towards * current_a));
    }
    Ok(found)
}
