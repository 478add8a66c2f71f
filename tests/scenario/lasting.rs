//! Endurance at a constant load, on the project's own runs to the cut-off.

use taffrail::reckoning::Method;

use super::{none_misses, say, sensed};
use crate::support::trial::lasting::{Guess, Outcome, until_cutoff};
use crate::support::trial::{must, traces};

fn is_right(of: fn(&Outcome) -> Guess) {
    let runs = traces::own("endurance");
    assert_eq!(runs.len(), 24, "the runs are fixtures of the repository");
    none_misses(sensed(runs), |trace| {
        let guess = of(&until_cutoff(Method::Filter, &trace));
        let line = format!("{}: {:.0} s left, reckoned {:.0?}", trace.name, guess.true_s, guess.span);
        say(&line);
        (guess.error().abs() > must::ENDURANCE || !guess.holds()).then_some(line)
    });
}

#[test]
fn endurance_at_a_known_load_is_right_ten_minutes_into_it() {
    is_right(|outcome| outcome.begun);
}

#[test]
fn endurance_at_the_recent_mean_load_is_right_ten_minutes_into_it() {
    is_right(|outcome| outcome.begun_by_mean);
}

#[test]
fn endurance_at_the_recent_mean_load_is_right_half_way() {
    is_right(|outcome| outcome.half_way);
}
