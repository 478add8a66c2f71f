//! How the bank was used.

use jiff::tz::TimeZone;

use super::months::months;
use super::stored::Dated;
use super::views::{TemperatureHoursView, UseView};
use crate::health::{FullLoop, UseDay};
use crate::quantity::{Estimate, UtcMs};
use crate::reckoning::FixKind;
use crate::review::values::{BandView, rfc3339};
use crate::store::{Reader, Result};

/// Edges of the ranges of temperature in [`UseDay::temperature_s`], °C.
const TEMPERATURE_EDGES_C: [f64; 5] = [0.0, 10.0, 20.0, 30.0, 40.0];
/// Ways from full to full that tell how long charging usually takes.
const USUAL_LOOPS: usize = 20;
/// Fixes that are looked through for the last full one.
const MOST_FIXES: usize = 10_000;

/// When the bank was full last.
pub(super) fn last_full(reader: &Reader, bank: &str) -> Result<Option<UtcMs>> {
    let fixes = reader.fixes(bank, UtcMs(i64::MIN), UtcMs(i64::MAX), MOST_FIXES)?;
    Ok(fixes.into_iter().find(|stored| stored.fix.kind == FixKind::Full.word()).and_then(|stored| stored.utc))
}

/// What the days and the ways from full to full come to. `now` is the last moment that was looked at.
pub(super) fn use_view(
    days: &[Dated<UseDay>],
    loops: &[Dated<FullLoop>],
    last_full: Option<UtcMs>,
    now: Option<UtcMs>,
    zone: &TimeZone,
) -> UseView {
    let sum = |of: fn(&UseDay) -> f64| days.iter().map(|day| of(&day.it)).sum::<f64>();
    let mut tenths_s = [0.0; 10];
    let mut temperature_s = [0.0; 6];
    for day in days {
        tenths_s.iter_mut().zip(day.it.soc_tenths_s).for_each(|(sum, s)| *sum += s);
        temperature_s.iter_mut().zip(day.it.temperature_s).for_each(|(sum, s)| *sum += s);
    }
    let known_s: f64 = tenths_s.iter().sum();
    let since_full = last_full.zip(now).map(|(full, now)| (now.seconds_since(full) / 86_400.0).max(0.0));
    UseView {
        days: sum(|day| day.covered_s) / 86_400.0,
        charge_out_ah: sum(|day| day.charge_out_ah),
        charge_in_ah: sum(|day| day.charge_in_ah),
        energy_out_wh: sum(|day| day.energy_out_wh),
        energy_in_wh: sum(|day| day.energy_in_wh),
        last_full: last_full.and_then(rfc3339),
        days_since_full: since_full,
        charging_h: usual_charging_h(loops),
        efficiency: latest(loops, |way| way.efficiency),
        standing_a: latest(days, |day| day.standing_a),
        unaccounted_a: latest(days, |day| day.unaccounted_a),
        soc_tenths: tenths_s.map(|s| if known_s > 0.0 { s / known_s } else { 0.0 }),
        temperature_h: temperature_hours(temperature_s),
        by_month: months(days, zone),
    }
}

fn latest<T>(all: &[Dated<T>], of: impl Fn(&T) -> Option<Estimate>) -> Option<BandView> {
    all.iter().rev().find_map(|dated| of(&dated.it)).map(BandView::from)
}

fn usual_charging_h(loops: &[Dated<FullLoop>]) -> Option<f64> {
    let mut hours: Vec<f64> = loops.iter().rev().take(USUAL_LOOPS).map(|way| way.it.charging_h).collect();
    hours.sort_by(f64::total_cmp);
    hours.get(hours.len() / 2).copied()
}

fn temperature_hours(seconds: [f64; 6]) -> Vec<TemperatureHoursView> {
    let edges = TEMPERATURE_EDGES_C.map(Some);
    let from = std::iter::once(None).chain(edges);
    let to = edges.into_iter().chain([None]);
    from.zip(to)
        .zip(seconds)
        .map(|((from_c, to_c), s)| TemperatureHoursView { from_c, to_c, hours: s / 3600.0 })
        .collect()
}
