//! How the monoblocs of a bank stand against each other.

use std::collections::{BTreeMap, BTreeSet};

use super::stored::{Dated, items};
use super::thin::thinned;
use super::views::{BalanceView, DeviationView, SpreadView, WeakView};
use crate::health::balance::weakest;
use crate::health::{BalanceDay, BalanceState};
use crate::quantity::UtcMs;
use crate::review::values::{BandView, rfc3339};

/// How far back "now" reaches, s.
const NOW_S: f64 = 30.0 * 86_400.0;

/// The word of the API.
pub(super) const fn state_word(state: BalanceState) -> &'static str {
    match state {
        BalanceState::Rest => "rest",
        BalanceState::Load => "load",
        BalanceState::ChargeEnd => "charge-end",
    }
}

/// How they stand now, and how far apart they stood.
pub(super) fn balance_view(days: &[Dated<BalanceDay>]) -> BalanceView {
    let monoblocs = days.iter().map(|day| day.it.monobloc).max().unwrap_or(0);
    let Some(last) = days.iter().map(|day| day.to).max() else {
        let text = "No monobloc or cell is measured by itself, or not long enough yet.".to_owned();
        return BalanceView { monoblocs: 0, now: Vec::new(), spread: Vec::new(), weak: None, text };
    };
    let recent = days.iter().filter(|day| last.seconds_since(day.to) <= NOW_S);
    let mut by_bloc: BTreeMap<(BalanceState, u32), Vec<&BalanceDay>> = BTreeMap::new();
    for day in recent {
        by_bloc.entry((day.it.state, day.it.monobloc)).or_default().push(&day.it);
    }
    let now: Vec<DeviationView> = by_bloc.iter().map(|((state, bloc), days)| deviation(*state, *bloc, days)).collect();
    let weak = weak(days);
    let text = words(&now, weak.as_ref());
    BalanceView { monoblocs, now, spread: spreads(days), weak, text }
}

fn deviation(state: BalanceState, monobloc: u32, days: &[&BalanceDay]) -> DeviationView {
    let minutes: f64 = days.iter().map(|day| f64::from(day.minutes)).sum();
    let weighted: f64 = days.iter().map(|day| day.deviation_v * f64::from(day.minutes)).sum();
    let mean = |values: Vec<f64>| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
    DeviationView {
        state: state_word(state),
        monobloc,
        deviation_v: weighted / minutes.max(1.0),
        contact_open_v: mean(days.iter().filter_map(|day| day.contact_open_v).collect()),
        contact_closed_v: mean(days.iter().filter_map(|day| day.contact_closed_v).collect()),
        days: u32::try_from(days.len()).unwrap_or(u32::MAX),
    }
}

/// The highest less the lowest of each day on which two or more were compared.
fn spreads(days: &[Dated<BalanceDay>]) -> Vec<SpreadView> {
    let mut spreads: BTreeMap<BalanceState, Vec<(UtcMs, f64)>> = BTreeMap::new();
    let keys: BTreeSet<(BalanceState, UtcMs)> = days.iter().map(|day| (day.it.state, day.to)).collect();
    for (state, time) in keys {
        let from = days.partition_point(|day| day.to < time);
        let of_day = days[from..].iter().take_while(|day| day.to == time).filter(|day| day.it.state == state);
        let (low, high, count) = of_day.fold((f64::INFINITY, f64::NEG_INFINITY, 0), |(low, high, count), day| {
            (low.min(day.it.deviation_v), high.max(day.it.deviation_v), count + 1)
        });
        if count > 1 {
            spreads.entry(state).or_default().push((time, high - low));
        }
    }
    let view = |state, (time, spread_v)| SpreadView { time: rfc3339(time), state: state_word(state), spread_v };
    let lines = spreads.into_iter().flat_map(|(state, line)| {
        thinned(line, |(_, spread_v)| *spread_v).into_iter().map(move |point| view(state, point))
    });
    lines.collect()
}

/// The one that holds clearly less than the others, by the latest day that tells.
fn weak(days: &[Dated<BalanceDay>]) -> Option<WeakView> {
    let weak = weakest(&items(days))?;
    let shortfall = BandView::from(weak.shortfall);
    let BandView { value, low, high } = shortfall.scaled(100.0);
    let monobloc = weak.monobloc;
    let text = format!("Monobloc {monobloc} holds {value:.0} % less than the others ({low:.0} to {high:.0}).");
    Some(WeakView { monobloc, shortfall, text })
}

fn words(now: &[DeviationView], weak: Option<&WeakView>) -> String {
    if let Some(weak) = weak {
        return weak.text.clone();
    }
    let furthest = now.iter().max_by(|a, b| a.deviation_v.abs().total_cmp(&b.deviation_v.abs()));
    furthest.map_or_else(String::new, |one| {
        let when = match one.state {
            "rest" => "at rest",
            "load" => "under load",
            _ => "at the end of charge",
        };
        let mv = 1000.0 * one.deviation_v;
        format!(
            "None holds clearly less than the others. Furthest from the mean: monobloc {}, {mv:+.0} mV {when}.",
            one.monobloc
        )
    })
}
