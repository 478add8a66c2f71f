//! Endurance at a constant load, on the project's own runs to the cut-off.

use std::sync::LazyLock;

use taffrail::reckoning::Method;

use super::{limits, say, sensed};
use crate::support::trial::lasting::{Guess, Outcome, until_cutoff};
use crate::support::trial::{must, traces};

/// What was reckoned on each run: followed once, asked by every test.
static RUNS: LazyLock<Vec<(String, Outcome)>> = LazyLock::new(|| {
    let runs = traces::own("endurance");
    assert_eq!(runs.len(), 24, "the runs are fixtures of the repository");
    sensed(runs).map(|trace| (trace.name.clone(), until_cutoff(Method::Filter, &trace))).collect()
});

/// The truth lies in every range, and no error exceeds the goal or what is stated where that is missed.
fn is_right(of: fn(&Outcome) -> Guess, missed: limits::Missed) {
    let wrong = RUNS.iter().filter_map(|(name, outcome)| {
        let guess = of(outcome);
        let limit = limits::reached(missed, name, must::ENDURANCE);
        let error = guess.error();
        let line = format!("{name}: {:.0} s left, reckoned {:.0?}, {error:+.3} of {limit}", guess.true_s, guess.span);
        say(&line);
        (error.abs() > limit || !guess.holds()).then_some(line)
    });
    let wrong: Vec<String> = wrong.collect();
    assert!(wrong.is_empty(), "{} missed:\n{}", wrong.len(), wrong.join("\n"));
}

#[test]
fn endurance_at_a_known_load_is_right_ten_minutes_into_it() {
    is_right(|outcome| outcome.begun, limits::BEGUN);
}

#[test]
fn endurance_at_the_recent_mean_load_is_right_ten_minutes_into_it() {
    is_right(|outcome| outcome.begun_by_mean, limits::BEGUN_BY_MEAN);
}

#[test]
fn endurance_at_the_recent_mean_load_is_right_half_way() {
    is_right(|outcome| outcome.half_way, limits::HALF_WAY);
}
