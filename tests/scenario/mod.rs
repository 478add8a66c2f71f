//! The filter on whole stories with known truth, through a sensor that errs both ways: each test states its limits
//! (`limits.rs`), and each prints what it measured (`--nocapture`). The accuracy table prints the same trials at full
//! length: `cargo run --release --example accuracy`.

mod described;
mod disturbed;
mod lasting;
mod limits;
mod real;
mod restart;
mod sound;
mod started;

use crate::support::TruthRow;
use crate::support::trial::must::Goal;
use crate::support::trial::score::Score;
use crate::support::trial::sensor::Sensor;
use crate::support::trial::{Trace, traces};

/// Rows of a thinned trace are at most this far apart, s, so that tests of a debug build stay quick.
const THINNED_S: f64 = 60.0;

/// The traces as sensors see them that err either way, thinned.
fn sensed(traces: Vec<Trace>) -> impl Iterator<Item = Trace> {
    traces.into_iter().flat_map(|trace| {
        let thin = thinned(&trace);
        [("+", 1.0), ("-", -1.0)]
            .map(|(mark, sign)| Trace { name: format!("{} {mark}", thin.name), ..thin.through(Sensor::erring(sign)) })
    })
}

/// Traces that begin and end full: cruises of the project's own, and passages where the open data are there.
fn voyages() -> Vec<Trace> {
    let own = traces::own("cruise");
    assert_eq!(own.len(), 2, "the cruises are fixtures of the repository");
    own.into_iter().chain(traces::physics("passage").unwrap_or_default()).collect()
}

/// Leaves out rows between which the current runs straight and level, so that counting by trapezoids stays exact.
fn thinned(trace: &Trace) -> Trace {
    let small_a = 0.000_2 * trace.bank.rated_capacity_ah;
    let mut rows: Vec<TruthRow> = Vec::new();
    let mut skipped: Option<TruthRow> = None;
    for row in &trace.rows {
        let Some(kept) = rows.last().copied() else {
            rows.push(*row);
            continue;
        };
        let has_moved = (row.reading.current_a - kept.reading.current_a).abs() > small_a;
        if has_moved {
            rows.extend(skipped.take());
        }
        if has_moved || row.reading.t_s - kept.reading.t_s >= THINNED_S {
            rows.push(*row);
            skipped = None;
        } else {
            skipped = Some(*row);
        }
    }
    rows.extend(skipped);
    Trace { name: trace.name.clone(), bank: trace.bank.clone(), rows }
}

/// Says what was measured, and gives each figure that misses its limit.
fn judge(name: &str, score: &Score, limit: Goal) -> Option<String> {
    let figures = format!(
        "{name}: RMS {:.4} of {}, greatest {:.4} of {}, inside {:.4} of {}, half-width {:.4} of {}",
        score.rms(),
        limit.rms,
        score.greatest(),
        limit.greatest,
        score.inside(),
        limit.inside,
        score.half_width(),
        limit.half_width
    );
    println!("{figures}");
    let keeps = score.rms() <= limit.rms
        && score.greatest() <= limit.greatest
        && score.inside() >= limit.inside
        && score.half_width() <= limit.half_width;
    (!keeps).then_some(figures)
}

/// Checks each trace; fails with every miss, so that one run shows them all.
fn none_misses(traces: impl IntoIterator<Item = Trace>, check: impl FnMut(Trace) -> Option<String>) {
    let missed: Vec<String> = traces.into_iter().filter_map(check).collect();
    assert!(missed.is_empty(), "{} missed:\n{}", missed.len(), missed.join("\n"));
}

#[test]
fn thinning_keeps_the_count() {
    for trace in voyages() {
        let counted_ah = |trace: &Trace| -> f64 {
            let hours = |pair: &[TruthRow]| (pair[1].reading.t_s - pair[0].reading.t_s) / 3600.0;
            let mean_a = |pair: &[TruthRow]| f64::midpoint(pair[0].reading.current_a, pair[1].reading.current_a);
            trace.rows.windows(2).map(|pair| hours(pair) * mean_a(pair)).sum()
        };
        let thin = thinned(&trace);
        let lost = (counted_ah(&trace) - counted_ah(&thin)).abs() / trace.bank.rated_capacity_ah;
        println!("{}: {} rows of {}, count differs by {lost:.5}", trace.name, thin.rows.len(), trace.rows.len());
        assert!(lost < 0.001, "{}: {lost}", trace.name);
    }
}
