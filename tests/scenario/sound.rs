//! Sound banks and sensors, well described: how far off, is the band right, is nothing suspected, does closing help.

use taffrail::reckoning::{Method, Suspicion};

use super::{judge, limits, none_misses, say, sensed, sensed_in_turn, voyages};
use crate::support::trial::must::Goal;
use crate::support::trial::smoothed::reconcile;
use crate::support::trial::{Trace, follow, must, traces};

fn all_keep(traces: Vec<Trace>, limit: Goal) {
    none_misses(sensed(traces), |trace| judge(&trace.name, &follow(Method::Filter, &trace), limit));
}

#[test]
fn passages_are_reckoned_within_their_limits() {
    all_keep(traces::physics("passage").unwrap_or_default(), limits::PASSAGE);
}

#[test]
fn harbours_are_reckoned_within_their_limits() {
    all_keep(traces::physics("harbour").unwrap_or_default(), limits::HARBOUR);
}

#[test]
fn hard_runs_are_reckoned_within_their_limits() {
    all_keep(traces::physics("hard_run").unwrap_or_default(), limits::HARD_RUN);
}

#[test]
fn own_scenarios_are_reckoned_within_their_limits() {
    let own = traces::own("");
    assert!(own.len() >= 26, "the fixtures of the repository");
    all_keep(own, limits::OWN);
}

#[test]
fn a_sound_bank_well_described_raises_no_suspicion() {
    let mut traces = voyages();
    traces.extend(traces::own("endurance_lead_30"));
    traces.extend(traces::own("endurance_lfp_30"));
    traces.extend(traces::physics("hard_run").unwrap_or_default());
    none_misses(sensed(traces), |trace| {
        let suspicions = suspicions(&trace);
        (!suspicions.is_empty()).then(|| format!("{}: {suspicions:?}", trace.name))
    });
}

#[test]
fn a_reconciled_voyage_lies_far_closer_to_the_truth() {
    none_misses(sensed_in_turn(voyages()), |trace| {
        let outcome = reconcile(Method::Filter, &trace);
        let ratio = outcome.ratio();
        say(&format!("{}: reconciled/live RMS {ratio:.3}, closed {} times", trace.name, outcome.closed_by_full));
        let band = judge(&trace.name, &outcome.reconciled, must::BAND);
        let is_good = outcome.closed_by_full > 0 && ratio <= must::SMOOTHED && band.is_none();
        (!is_good).then(|| format!("{}: {ratio:.3} of {}, {band:?}", trace.name, must::SMOOTHED))
    });
}

/// Everything that the filter suspects along a trace.
pub fn suspicions(trace: &Trace) -> Vec<Suspicion> {
    let mut reckoner = trace.begin(Method::Filter);
    let raised = trace.rows.iter().filter_map(|row| {
        reckoner.step(&row.reading);
        reckoner.take_suspicion()
    });
    raised.collect()
}
