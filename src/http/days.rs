//! What went in and out of a bank on each local day of the boat's zone: days of 23, 24 and 25 hours, as its clocks
//! showed them.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Path, Query, State};
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};

use super::banks;
use super::history::{UnreadableView, unreadable_views};
use super::live::Live;
use super::problem::Problem;
use crate::quantity::{Channel, UtcMs};
use crate::review::{POWER, rfc3339, stretches};
use crate::store::{Reader, Result, Summary};

/// Most days of an answer.
const MOST_DAYS: usize = 400;

/// Which days.
#[derive(Debug, Deserialize, IntoParams)]
#[into_params(parameter_in = Query)]
pub struct DaysRequest {
    /// First local day, such as 2026-03-01.
    from: String,
    /// Last local day, included; at most 400 days in all.
    to: String,
}

/// One local day.
#[derive(Debug, Serialize, ToSchema)]
pub struct DayView {
    /// Its date, such as 2026-03-29.
    date: String,
    /// When it began, RFC 3339.
    start: Option<String>,
    /// How long it was, s: 82,800 or 90,000 where the clocks changed by an hour.
    length_s: f64,
    /// Seconds of it that samples cover.
    covered_s: f64,
    /// Charge put in, Ah.
    charge_in_ah: f64,
    /// Charge taken out, Ah.
    charge_out_ah: f64,
    /// Energy put in, Wh.
    energy_in_wh: f64,
    /// Energy taken out, Wh.
    energy_out_wh: f64,
    /// Lowest state of charge, 0..1: reconciled where it is, else as reckoned at the time; `null` where none is recorded.
    soc_min: Option<f64>,
    /// Highest state of charge.
    soc_max: Option<f64>,
}

/// Local days, the earliest first.
#[derive(Debug, Serialize, ToSchema)]
pub struct DaysView {
    /// The zone whose days they are, an IANA name.
    zone: String,
    /// One for each day asked for, also for those without samples.
    days: Vec<DayView>,
    /// Stretches of these days that are stored but cannot be read. Empty unless the store is damaged.
    unreadable: Vec<UnreadableView>,
}

/// Charge and energy of each local day of the boat's zone.
#[utoipa::path(get, path = "/api/v1/banks/{name}/days", params(("name" = String, Path, description = "Name of the bank"), DaysRequest), responses((status = 200, body = DaysView), (status = 400, body = Problem, content_type = "application/problem+json"), (status = 404, body = Problem, content_type = "application/problem+json"), (status = 503, body = Problem, content_type = "application/problem+json")))]
pub async fn days(
    State(live): State<Arc<Live>>,
    Path(name): Path<String>,
    Query(request): Query<DaysRequest>,
) -> std::result::Result<Json<DaysView>, Problem> {
    banks::find(&live, &name)?;
    let zone = TimeZone::get(&live.zone)
        .map_err(|cause| Problem::internal(format!("the zone {} is not known here: {cause}", live.zone)))?;
    let calendar = Calendar::new(&zone, read_date("from", &request.from)?, read_date("to", &request.to)?)?;
    let zone = live.zone.clone();
    let lent =
        live.readers.lent(move |reader| Ok((read_days(reader, &name, &calendar)?, reader.all_series()?))).await?;
    let (days, series) = lent.answer;
    Ok(Json(DaysView { zone, days, unreadable: unreadable_views(lent.unreadable, &series) }))
}

fn read_date(field: &str, text: &str) -> std::result::Result<Date, Problem> {
    text.parse()
        .map_err(|_| Problem::bad_request(format!("{field}: expected a day such as 2026-03-01, got \"{text}\"")))
}

/// Days, and the moments at which they begin and the last one ends.
struct Calendar {
    days: Vec<Date>,
    edges: Vec<UtcMs>,
}

impl Calendar {
    fn new(zone: &TimeZone, from: Date, to: Date) -> std::result::Result<Calendar, Problem> {
        if to < from {
            return Err(Problem::bad_request(format!(
                "from and to: {to} lies before {from}; the first day comes first"
            )));
        }
        let days: Vec<Date> =
            from.series(jiff::Span::new().days(1)).take_while(|day| *day <= to).take(MOST_DAYS + 1).collect();
        if days.len() > MOST_DAYS {
            let text = format!("from and to: {from} to {to} is more than {MOST_DAYS} days; ask for fewer at a time");
            return Err(Problem::bad_request(text));
        }
        let begin =
            |day: Date| day.to_zoned_datetime(zone.clone()).map(|begin| UtcMs(begin.timestamp().as_millisecond()));
        let after = to.tomorrow().and_then(begin);
        let edges: std::result::Result<Vec<UtcMs>, jiff::Error> =
            days.iter().map(|day| begin(*day)).chain([after]).collect();
        let edges = edges.map_err(|cause| Problem::bad_request(format!("from and to: {cause}")))?;
        Ok(Calendar { days, edges })
    }
}

fn read_days(reader: &Reader, bank: &str, calendar: &Calendar) -> Result<Vec<DayView>> {
    let Calendar { days, edges } = calendar;
    let moved = stretches::measured(reader, bank, [Channel::CURRENT, POWER], edges)?;
    let charge = stretches::charge(reader, bank, edges)?;
    let lengths = edges.windows(2).map(|pair| (pair[0], pair[1].seconds_since(pair[0])));
    let all = days.iter().zip(lengths).zip(moved.iter().zip(&charge));
    // A day that the zone left out, as on the date line, was none.
    let lived = all.filter(|((_, (_, length_s)), _)| *length_s > 0.0);
    Ok(lived
        .map(|((date, (start, length_s)), (moved, charge))| day_view(*date, (start, length_s), moved, charge))
        .collect())
}

fn day_view(date: Date, (start, length_s): (UtcMs, f64), [current, power]: &[Summary; 2], charge: &Summary) -> DayView {
    let hours = |unit_s: f64| unit_s / 3600.0;
    DayView {
        date: date.to_string(),
        start: rfc3339(start),
        length_s,
        covered_s: current.covered_s,
        charge_in_ah: hours(current.positive),
        charge_out_ah: 0.0 - hours(current.negative),
        energy_in_wh: hours(power.positive),
        energy_out_wh: 0.0 - hours(power.negative),
        soc_min: (charge.count > 0).then_some(charge.min),
        soc_max: (charge.count > 0).then_some(charge.max),
    }
}
