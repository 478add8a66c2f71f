//! Starts of which nothing is told.

use taffrail::reckoning::Method;

use super::{judge, limits, none_misses, say, sensed_in_turn, voyages};
use crate::support::trial::{traces, unknown};

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
