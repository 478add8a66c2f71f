//! The banks, and one bank now.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, State};
use serde::Serialize;
use utoipa::ToSchema;

use super::branches::BranchDescription;
use super::live::Live;
use super::problem::Problem;
use super::view::NowView;
use crate::battery::Bank;
use crate::quantity::{Channel, UtcMs};
use crate::review::{Looked, rfc3339};

/// A channel of a bank.
#[derive(Debug, Serialize, ToSchema)]
struct ChannelView {
    /// Its name; the suffix says the unit.
    name: String,
    /// Symbol of the unit.
    unit: &'static str,
}

/// What every answer about a described bank begins with.
#[derive(Debug, Serialize, ToSchema)]
pub struct BankFacts {
    /// Name in addresses.
    name: String,
    /// Name for people.
    title: String,
    /// Cell chemistry.
    chemistry: &'static str,
    /// Cells in series.
    cells_in_series: u32,
    /// Capacity at the rated hours and 25 °C, Ah.
    rated_capacity_ah: f64,
    /// Hours of the rating.
    rated_hours: f64,
    /// State of charge that is to be kept.
    reserve: f64,
}

impl From<&Bank> for BankFacts {
    fn from(bank: &Bank) -> BankFacts {
        BankFacts {
            name: bank.name.clone(),
            title: bank.title.clone(),
            chemistry: bank.chemistry.word(),
            cells_in_series: bank.cells_in_series,
            rated_capacity_ah: bank.rated_capacity_ah,
            rated_hours: bank.rated_hours,
            reserve: bank.reserve,
        }
    }
}

/// A bank as described.
#[derive(Debug, Serialize, ToSchema)]
pub struct BankView {
    #[serde(flatten)]
    facts: BankFacts,
    /// When its first stored sample was taken, RFC 3339.
    first_time: Option<String>,
    /// What its devices report.
    channels: Vec<ChannelView>,
    /// Its branches, in the order of the configuration.
    branches: Vec<BranchDescription>,
}

/// All banks.
#[derive(Debug, Serialize, ToSchema)]
pub struct BanksView {
    /// Name of the boat.
    boat: String,
    /// Zone of clock labels, an IANA name.
    zone: String,
    /// The banks, in the order of the configuration.
    banks: Vec<BankView>,
}

/// All banks, as described in the configuration.
#[utoipa::path(get, path = "/api/v1/banks", responses((status = 200, body = BanksView), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn list(State(live): State<Arc<Live>>) -> std::result::Result<Json<BanksView>, Problem> {
    let names: Vec<String> = live.banks.iter().map(|bank| bank.name.clone()).collect();
    let firsts = live
        .readers
        .with(move |reader| {
            names.iter().map(|name| Ok(Looked::at(reader, name)?.reach.map(|(first, _)| first))).collect()
        })
        .await?;
    let firsts: Vec<Option<UtcMs>> = firsts;
    let banks = live.banks.iter().zip(firsts).map(|(bank, first)| bank_view(&live, bank, first)).collect();
    Ok(Json(BanksView { boat: live.boat.clone(), zone: live.zone.clone(), banks }))
}

/// One bank now.
#[utoipa::path(get, path = "/api/v1/banks/{name}/now", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = NowView), (status = 404, body = Problem, content_type = "application/problem+json")))]
pub async fn now(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
) -> std::result::Result<Json<NowView>, Problem> {
    let index = find(&live, &name)?;
    Ok(Json(NowView::new(&live, index, &live.latest(index))))
}

/// The place of a bank, or a problem that names those there are.
pub fn find(live: &Live, name: &str) -> std::result::Result<usize, Problem> {
    live.bank_index(name).ok_or_else(|| {
        let names: Vec<_> = live.banks.iter().map(|bank| bank.name.as_str()).collect();
        Problem::not_found(format!("no bank is named \"{name}\"; there are: {}", names.join(", ")))
    })
}

fn bank_view(live: &Live, bank: &Bank, first: Option<UtcMs>) -> BankView {
    let devices = live.devices.iter().filter(|device| device.bank == bank.name);
    BankView {
        facts: bank.into(),
        first_time: first.and_then(rfc3339),
        channels: devices.flat_map(|device| &device.channels).map(channel_view).collect(),
        branches: live.branches.iter().filter(|branch| branch.bank == bank.name).map(Into::into).collect(),
    }
}

fn channel_view(channel: &Channel) -> ChannelView {
    ChannelView { name: channel.name().to_owned(), unit: channel.unit().symbol() }
}
