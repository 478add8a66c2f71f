//! The filter on whole stories with known truth, through a sensor that errs both ways: each test states its limits
//! (`limits.rs`), and each prints what it measured (`--nocapture`). The accuracy table prints the same trials at full
//! length: `cargo run --release --example accuracy`.

mod bursts;
mod decade;
mod described;
mod disturbed;
mod lasting;
mod limits;
mod real;
mod restart;
mod sound;
mod started;
mod thin;

use crate::support::trial::must::Goal;
use crate::support::trial::score::Score;
use crate::support::trial::sensor::Sensor;
use crate::support::trial::{Trace, traces};
use thin::thinned;

/// The traces as sensors see them that err either way, thinned.
fn sensed(traces: Vec<Trace>) -> impl Iterator<Item = Trace> {
    traces
        .into_iter()
        .flat_map(|trace| [(&trace, 1.0), (&trace, -1.0)].map(|(trace, sign)| thinned(&erring(trace, sign))))
}

/// The same with one sign for each trace, in turn, where both would take too long: the accuracy table has both.
fn sensed_in_turn(traces: Vec<Trace>) -> impl Iterator<Item = Trace> {
    erring_in_turn(traces).map(|trace| thinned(&trace))
}

/// Each trace as seen by a sensor that errs, one up, the next down.
fn erring_in_turn(traces: Vec<Trace>) -> impl Iterator<Item = Trace> {
    traces.into_iter().zip([1.0, -1.0].into_iter().cycle()).map(|(trace, sign)| erring(&trace, sign))
}

fn erring(trace: &Trace, sign: f64) -> Trace {
    let mark = if sign > 0.0 { "+" } else { "-" };
    Trace { name: format!("{} {mark}", trace.name), ..trace.through(Sensor::erring(sign)) }
}

/// Traces that begin and end full: cruises of the project's own, and passages where the open data are there.
fn voyages() -> Vec<Trace> {
    let own = traces::own("cruise");
    assert_eq!(own.len(), 2, "the cruises are fixtures of the repository");
    own.into_iter().chain(traces::physics("passage").unwrap_or_default()).collect()
}

/// Says what was measured (`--nocapture` shows it).
#[expect(clippy::print_stdout, reason = "the harness shows it with a failure, or when asked")]
fn say(text: &str) {
    println!("{text}");
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
    say(&figures);
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
