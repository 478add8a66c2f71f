//! Reports of a passage and of a bank's health: HTML files that need nothing else.

use std::sync::Arc;

use axum::extract::{Path, State};
use axum::response::Html;
use jiff::tz::TimeZone;

use super::live::Live;
use super::passages::{aboard, no_passage};
use super::problem::Problem;
use super::recorded::{Line, Wanted, read_history};
use crate::health::Aboard;
use crate::quantity::{Channel, UtcMs};
use crate::review::record::record;
use crate::review::report::{self, About, Trace};
use crate::review::{one_passage, unreadable_notes};
use crate::store::{Reader, Result, StoredPassage};

/// Points of a report's curves: about two for each millimetre of paper.
const POINTS: usize = 360;

/// What every report says of the boat.
#[derive(Debug, Clone, Copy)]
pub struct Reported<'a> {
    /// Name of the boat.
    pub boat: &'a str,
    /// The zone whose clock times are shown.
    pub zone: &'a TimeZone,
    /// When the report is made.
    pub made: UtcMs,
}

impl Reported<'_> {
    /// The report of a passage as HTML.
    ///
    /// # Errors
    /// What the store reports.
    pub fn passage(&self, reader: &Reader, aboard: &Aboard<'_>, stored: &StoredPassage) -> Result<String> {
        let bank = aboard.bank;
        let mut view = one_passage(reader, stored, Some(aboard))?;
        let span = stored.begin_utc.zip(stored.end_utc.or(Some(self.made)));
        let trace = match span.filter(|(from, to)| from < to) {
            Some((from, to)) => trace(reader, &bank.name, from, to)?,
            None => Trace::default(),
        };
        view.notes.extend(unreadable_notes(&reader.take_unreadable(), &reader.all_series()?));
        Ok(self.about(aboard, |about| report::passage(about, &view, &trace, bank.reserve)))
    }

    /// The report of a bank's health as HTML.
    ///
    /// # Errors
    /// What the store reports.
    pub fn health(&self, reader: &Reader, aboard: &Aboard<'_>) -> Result<String> {
        let mut view = record(reader, aboard, self.zone)?;
        view.notes.extend(unreadable_notes(&reader.take_unreadable(), &reader.all_series()?));
        Ok(self.about(aboard, |about| report::health(about, &view)))
    }

    fn about(&self, aboard: &Aboard<'_>, make: impl FnOnce(&About<'_>) -> String) -> String {
        let bank = aboard.bank;
        let rating = format!(
            "{}, {:.0} Ah at {:.0} h, {} cells in series",
            bank.chemistry.word(),
            bank.rated_capacity_ah,
            bank.rated_hours,
            bank.cells_in_series
        );
        let Reported { boat, zone, made } = *self;
        make(&About { boat, bank: &bank.title, rating: &rating, zone, made })
    }
}

fn trace(reader: &Reader, bank: &str, from: UtcMs, to: UtcMs) -> Result<Trace> {
    let names = [Channel::VOLTAGE, Channel::CURRENT, "soc"].map(str::to_owned);
    let wanted = Wanted { bank, channels: Some(&names), line: Line::Reconciled, from, to, points: POINTS };
    let merged = read_history(reader, &wanted)?.merged;
    let rows = merged.time_ms.len();
    let column = |name: &str, part: fn(&crate::store::HistoryChannel) -> &Vec<Option<f64>>| -> Vec<f64> {
        let channel = merged.channels.iter().find(|channel| channel.name == name);
        channel.map_or_else(
            || vec![f64::NAN; rows],
            |channel| part(channel).iter().map(|value| value.unwrap_or(f64::NAN)).collect(),
        )
    };
    let three = |low: Vec<f64>, mean: Vec<f64>, high: Vec<f64>| -> Vec<[f64; 3]> {
        low.into_iter().zip(mean).zip(high).map(|((low, mean), high)| [low, mean, high]).collect()
    };
    let soc = |name| column(name, |channel| &channel.mean);
    let current = |part| column(Channel::CURRENT, part);
    Ok(Trace {
        soc: three(soc("soc_low"), soc("soc"), soc("soc_high")),
        current_a: three(
            current(|channel| &channel.min),
            current(|channel| &channel.mean),
            current(|channel| &channel.max),
        ),
        voltage_v: column(Channel::VOLTAGE, |channel| &channel.mean),
        time_ms: merged.time_ms,
    })
}

/// A report of the bank's health: one HTML file to print or send.
#[utoipa::path(get, path = "/api/v1/banks/{name}/record/report", params(("name" = String, Path, description = "Name of the bank")), responses((status = 200, body = String, content_type = "text/html"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn health(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
) -> std::result::Result<Html<String>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let (boat, zone, made) = of(&live);
    let html = live
        .readers
        .with(move |reader| {
            let reported = Reported { boat: &boat, zone: &zone, made };
            reported.health(reader, &Aboard { bank: &bank, branches: &branches })
        })
        .await?;
    Ok(Html(html))
}

/// A report of a passage: one HTML file to print or send.
#[utoipa::path(get, path = "/api/v1/banks/{name}/passages/{id}/report", params(("name" = String, Path, description = "Name of the bank"), ("id" = i64, Path, description = "Number of the passage")), responses((status = 200, body = String, content_type = "text/html"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn passage(
    State(live): State<Arc<Live>>,
    Path((name, id)): Path<(String, i64)>,
) -> std::result::Result<Html<String>, Problem> {
    let (bank, branches) = aboard(&live, &name)?;
    let (boat, zone, made) = of(&live);
    let html = live
        .readers
        .with(move |reader| {
            let Some(stored) = reader.passage(id)?.filter(|passage| passage.bank == bank.name) else {
                return Ok(None);
            };
            let reported = Reported { boat: &boat, zone: &zone, made };
            reported.passage(reader, &Aboard { bank: &bank, branches: &branches }, &stored).map(Some)
        })
        .await?;
    html.map(Html).ok_or_else(|| no_passage(&name, id))
}

fn of(live: &Live) -> (String, TimeZone, UtcMs) {
    let zone = TimeZone::get(&live.zone).unwrap_or(TimeZone::UTC);
    (live.boat.clone(), zone, live.time.utc(live.clock.mono()))
}
