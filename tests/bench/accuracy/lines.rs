//! Lines of a section with their marks, and the sections that follow traces from a known start.

use std::fmt;

use taffrail::reckoning::Method;

use crate::support::trial::must::{self, Goal};
use crate::support::trial::score::Score;
use crate::support::trial::sensor::Sensor;
use crate::support::trial::{Trace, follow, traces};
use crate::threads::two_at_a_time;

/// Both signs of the sensor's errors, and their mark in the table.
pub const SIGNS: [(f64, &str); 2] = [(1.0, "+"), (-1.0, "-")];
/// What a section says whose traces are not there.
pub const NO_TRACES: &str = "no traces\n";

/// For figures that are shown beside a goal of another kind.
pub const NO_GOAL: Goal = Goal { inside: 0.0, ..must::BAND };

/// The text of a section, and how many of its lines miss a goal.
#[derive(Debug)]
pub struct Lines {
    title: String,
    lines: Vec<String>,
}

impl Lines {
    pub fn of(title: &str, lines: Vec<String>) -> Lines {
        Lines { title: title.to_owned(), lines }
    }
}

impl fmt::Display for Lines {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        writeln!(f, "{}", self.title)?;
        self.lines.iter().try_for_each(|line| writeln!(f, "  {line}"))?;
        if self.lines.is_empty() {
            return f.write_str(NO_TRACES);
        }
        let missed = self.lines.iter().filter(|line| line.contains('*')).count();
        writeln!(f, "  {missed} of {} lines miss a goal", self.lines.len())
    }
}

/// A percentage, marked where it misses its goal.
pub fn percent(ratio: f64, is_good: bool) -> String {
    format!("{:>6.2}{}", 100.0 * ratio, if is_good { ' ' } else { '*' })
}

/// The four figures of a line that follows a trace.
pub fn figures(score: &Score, goal: Goal) -> String {
    format!(
        "RMS {} max {} inside {} ± {}",
        percent(score.rms(), score.rms() <= goal.rms),
        percent(score.greatest(), score.greatest() <= goal.greatest),
        percent(score.inside(), score.inside() >= goal.inside),
        percent(score.half_width(), score.half_width() <= goal.half_width),
    )
}

/// Work for each trace and sign; lines begin with the name of the trace and the sign.
pub fn both_signs(traces: &[Trace], work: impl Fn(&Trace) -> String + Sync) -> Vec<String> {
    let tasks: Vec<(&Trace, f64, &str)> =
        traces.iter().flat_map(|trace| SIGNS.map(|(sign, mark)| (trace, sign, mark))).collect();
    two_at_a_time(&tasks, |&(trace, sign, mark)| {
        format!("{:<24} {mark}  {}", trace.name, work(&trace.through(Sensor::erring(sign))))
    })
}

/// Passages, harbours and hard runs of the physics-based truth.
pub fn physics(method: Method) -> Lines {
    let traces = traces::physics("").unwrap_or_default();
    let lines = both_signs(&traces, |trace| figures(&follow(method, trace), must::TRACE));
    Lines::of("physics: passages, harbours, hard runs (RMS <= 2, max <= 6, inside >= 95, half-width <= 5)", lines)
}

/// The project's own scenarios.
pub fn own(method: Method) -> Lines {
    let traces = traces::own("");
    let lines = both_signs(&traces, |trace| figures(&follow(method, trace), must::TRACE));
    Lines::of("own: traces of the project's own generator (as physics)", lines)
}

/// Records of one cell: the laboratory's sensor as it is.
pub fn cells(method: Method) -> Lines {
    let traces = traces::cells().unwrap_or_default();
    let lines =
        two_at_a_time(&traces, |trace| format!("{:<28} {}", trace.name, figures(&follow(method, trace), must::CELL)));
    Lines::of("lfp-cell: dynamic and drive records, 5 to 45 °C, truth ± 3 (RMS <= 3, inside >= 95)", lines)
}
