//! Sound banks and sensors, well described: how far off, is the band right, is nothing suspected, does closing help.

use std::sync::LazyLock;

use taffrail::reckoning::{Method, Suspicion};

use super::{judge, limits, none_misses, say, sensed, sensed_in_turn, voyages};
use crate::support::trial::score::Score;
use crate::support::trial::smoothed::reconcile;
use crate::support::trial::{Trace, must, traces};

/// What came of a trace.
struct Followed {
    name: String,
    score: Score,
    suspicions: Vec<Suspicion>,
}

/// Traces of a kind: followed once, asked by every test.
type Kind = LazyLock<Vec<Followed>>;

static PASSAGES: Kind = LazyLock::new(|| all_followed(traces::physics("passage").unwrap_or_default()));
static HARBOURS: Kind = LazyLock::new(|| all_followed(traces::physics("harbour").unwrap_or_default()));
static HARD_RUNS: Kind = LazyLock::new(|| all_followed(traces::physics("hard_run").unwrap_or_default()));
static OWN: Kind = LazyLock::new(|| {
    let own = traces::own("");
    assert!(own.len() >= 26, "the fixtures of the repository");
    all_followed(own)
});

fn all_followed(traces: Vec<Trace>) -> Vec<Followed> {
    sensed(traces).map(|trace| followed(&trace)).collect()
}

fn followed(trace: &Trace) -> Followed {
    let mut reckoner = trace.begin(Method::Filter);
    let mut followed = Followed { name: trace.name.clone(), score: Score::default(), suspicions: Vec::new() };
    for row in &trace.rows {
        reckoner.step(&row.reading);
        followed.suspicions.extend(reckoner.take_suspicion());
        if let Some(truth) = row.soc {
            let state = reckoner.report();
            followed.score.add(truth, state.soc, state.soc_band);
        }
    }
    followed
}

fn all_keep(kind: &Kind) {
    let missed = kind.iter().filter_map(|trace| judge(&trace.name, &trace.score, limits::trace(&trace.name)));
    let missed: Vec<String> = missed.collect();
    assert!(missed.is_empty(), "{} missed:\n{}", missed.len(), missed.join("\n"));
}

#[test]
fn passages_are_reckoned_within_their_limits() {
    all_keep(&PASSAGES);
}

#[test]
fn harbours_are_reckoned_within_their_limits() {
    all_keep(&HARBOURS);
}

#[test]
fn hard_runs_are_reckoned_within_their_limits() {
    all_keep(&HARD_RUNS);
}

#[test]
fn own_scenarios_are_reckoned_within_their_limits() {
    all_keep(&OWN);
}

#[test]
fn a_sound_bank_well_described_raises_no_suspicion() {
    let all = [&PASSAGES, &HARBOURS, &HARD_RUNS, &OWN];
    let suspected = all
        .into_iter()
        .flat_map(|kind| kind.iter())
        .filter(|trace| !trace.suspicions.is_empty())
        .map(|trace| format!("{}: {:?}", trace.name, trace.suspicions));
    let suspected: Vec<String> = suspected.collect();
    assert!(suspected.is_empty(), "{}", suspected.join("\n"));
}

#[test]
fn a_reconciled_voyage_lies_far_closer_to_the_truth() {
    none_misses(sensed_in_turn(voyages()), |trace| {
        let outcome = reconcile(Method::Filter, &trace);
        let ratio = outcome.ratio();
        say(&format!("{}: reconciled/live RMS {ratio:.3}, closed {} times", trace.name, outcome.closed_by_full));
        let band = judge(&trace.name, &outcome.reconciled, must::BAND);
        let limit = limits::reached(limits::SMOOTHED, &trace.name, must::SMOOTHED);
        let is_good = outcome.closed_by_full > 0 && ratio <= limit && band.is_none();
        (!is_good).then(|| format!("{}: {ratio:.3} of {limit}, {band:?}", trace.name))
    });
}

/// Everything that the filter suspects along a trace.
pub fn suspicions(trace: &Trace) -> Vec<Suspicion> {
    followed(trace).suspicions
}
