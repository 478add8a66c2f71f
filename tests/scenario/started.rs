//! Starts of which nothing is told.

use taffrail::reckoning::{Method, Reckoner, Start};

use super::{judge, limits, none_misses, say, sensed_in_turn, voyages};
use crate::support::trial::{must, smoothed, traces, unknown};

#[test]
fn an_unknown_start_is_said_at_once_holds_and_narrows() {
    let mut traces = voyages();
    traces.extend(traces::physics("harbour").unwrap_or_default());
    none_misses(sensed_in_turn(traces), |trace| {
        let outcome = unknown::follow(Method::Filter, &trace);
        let widths = [outcome.width_first, outcome.width_after_a_day, outcome.width_last];
        say(&format!("{}: width first, after a day, last {widths:.3?}", trace.name));
        let band = judge(&trace.name, &outcome.score, limits::UNKNOWN);
        let narrows = widths[0] >= limits::UNKNOWN_FIRST_WIDTH && widths[1] < widths[0] && widths[2] < widths[0];
        (band.is_some() || !narrows).then(|| format!("{}: widths {widths:.3?}, {band:?}", trace.name))
    });
}

/// What lies before the first full charge is known by counting back from it, and the band says how well.
#[test]
fn a_start_of_which_nothing_was_known_is_reconciled_by_the_next_full_charge() {
    none_misses(sensed_in_turn(voyages()), |trace| {
        let reckoner = Reckoner::begin(Method::Filter, trace.bank.clone(), Start::Unknown);
        let outcome = smoothed::reconcile_with(reckoner, &trace);
        let (inside, rms, live_rms) = (outcome.reconciled.inside(), outcome.reconciled.rms(), outcome.live.rms());
        let line = format!("{}: inside {inside:.3}, RMS {rms:.4} after {live_rms:.4} live", trace.name);
        say(&line);
        let is_good = outcome.closed_by_full > 0 && inside >= must::INSIDE && rms < live_rms;
        (!is_good).then_some(line)
    });
}
