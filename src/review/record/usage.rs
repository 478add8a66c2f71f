//! How the bank was used.

use jiff::tz::TimeZone;

use super::months::months;
use super::stored::{Dated, items};
use super::use_views::{TemperatureHoursView, UseView};
use crate::health::usage::{
    TEMPERATURE_EDGES_C, days_since_full, efficiency, hours_by_temperature, shares_of_charge, time_to_full,
};
use crate::health::{FullLoop, UseDay};
use crate::quantity::{Estimate, UtcMs};
use crate::review::values::{BandView, rfc3339};

/// Ways from full to full that tell how charging goes now.
const USUAL_LOOPS: usize = 20;

/// What the days and the ways from full to full come to. `now` is the last moment that was looked at.
pub(super) fn use_view(
    dated_days: &[Dated<UseDay>],
    dated_loops: &[Dated<FullLoop>],
    last_full: Option<UtcMs>,
    now: Option<UtcMs>,
    zone: &TimeZone,
) -> UseView {
    let days = items(dated_days);
    let loops = items(&dated_loops[dated_loops.len().saturating_sub(USUAL_LOOPS)..]);
    let sum = |of: fn(&UseDay) -> f64| days.iter().map(of).sum::<f64>();
    UseView {
        days: sum(|day| day.covered_s) / 86_400.0,
        charge_out_ah: sum(|day| day.charge_out_ah),
        charge_in_ah: sum(|day| day.charge_in_ah),
        energy_out_wh: sum(|day| day.energy_out_wh),
        energy_in_wh: sum(|day| day.energy_in_wh),
        last_full: last_full.and_then(rfc3339),
        days_since_full: last_full.zip(now).map(|(full, now)| days_since_full(full, now)),
        charging_h: time_to_full(&loops),
        efficiency: efficiency(&loops).map(BandView::from),
        standing_a: latest(&days, |day| day.standing_a),
        unaccounted_a: latest(&days, |day| day.unaccounted_a),
        soc_tenths: shares_of_charge(&days).unwrap_or_default(),
        temperature_h: temperature_hours(hours_by_temperature(&days)),
        by_month: months(dated_days, zone),
    }
}

fn latest(days: &[UseDay], of: impl Fn(&UseDay) -> Option<Estimate>) -> Option<BandView> {
    days.iter().rev().find_map(of).map(BandView::from)
}

fn temperature_hours(hours: [f64; 6]) -> Vec<TemperatureHoursView> {
    let edges = TEMPERATURE_EDGES_C.map(Some);
    let from = std::iter::once(None).chain(edges);
    let to = edges.into_iter().chain([None]);
    from.zip(to).zip(hours).map(|((from_c, to_c), hours)| TemperatureHoursView { from_c, to_c, hours }).collect()
}
