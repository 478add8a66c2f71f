//! Sections on time to come, time past, unknown beginnings and faults.

use taffrail::reckoning::Method;

use crate::lines::{Lines, NO_GOAL, both_signs, figures, percent};
use crate::support::trial::disturbed::{self, Fault};
use crate::support::trial::lasting::{Guess, Outcome, until_cutoff};
use crate::support::trial::sensor::Sensor;
use crate::support::trial::smoothed::reconcile;
use crate::support::trial::{Trace, must, traces, unknown};
use crate::threads::two_at_a_time;

/// Endurance on the way to the cut-off, and how many of the cases were right.
pub fn endurance(method: Method) -> Lines {
    let traces = traces::own("endurance");
    let tasks: Vec<(&Trace, f64)> = traces.iter().flat_map(|trace| [(trace, 1.0), (trace, -1.0)]).collect();
    let outcomes = two_at_a_time(&tasks, |(trace, sign)| until_cutoff(method, &trace.through(Sensor::erring(*sign))));
    let mut lines: Vec<String> = tasks
        .iter()
        .zip(&outcomes)
        .map(|((trace, sign), outcome)| {
            let mark = if *sign > 0.0 { "+" } else { "-" };
            let Outcome { begun, begun_by_mean, half_way } = outcome;
            format!(
                "{:<24} {mark}  {:>5.2} h left: {}  by the mean {}  half-way by the mean {}",
                trace.name,
                begun.true_s / 3600.0,
                guess(begun),
                guess(begun_by_mean),
                guess(half_way)
            )
        })
        .collect();
    for within in [0.05, must::ENDURANCE] {
        let share = |of: fn(&Outcome) -> Guess| {
            let good = outcomes.iter().filter(|&outcome| of(outcome).error().abs() <= within).count();
            format!("{good} of {}", outcomes.len())
        };
        lines.push(format!(
            "within {:.0} %: {}; by the mean {}; half-way by the mean {}",
            100.0 * within,
            share(|outcome| outcome.begun),
            share(|outcome| outcome.begun_by_mean),
            share(|outcome| outcome.half_way)
        ));
    }
    Lines::of("endurance: error of the time to empty, ten minutes into a constant load (within 10, band holds)", lines)
}

fn guess(guess: &Guess) -> String {
    let held = if guess.holds() { "held" } else { "not held*" };
    let spread = (guess.span.high_s - guess.span.low_s) / 2.0 / guess.true_s;
    format!("{}±{:>5.1} {held}", percent(guess.error(), guess.error().abs() <= must::ENDURANCE), 100.0 * spread)
}

/// The reconciled line against the live one, on traces that end in a full fix.
pub fn smoothed(method: Method) -> Lines {
    let mut traces = traces::physics("passage").unwrap_or_default();
    traces.extend(traces::own("cruise"));
    let lines = both_signs(&traces, |trace| {
        let outcome = reconcile(method, trace);
        if outcome.closed_by_full == 0 {
            return "no full fix closed it*".to_owned();
        }
        format!(
            "RMS reconciled/live {} closed {} times; live {} reconciled {}",
            percent(outcome.ratio(), outcome.ratio() <= must::SMOOTHED),
            outcome.closed_by_full,
            figures(&outcome.live, NO_GOAL),
            figures(&outcome.reconciled, must::BAND),
        )
    });
    Lines::of("smoothed: reconciled after each full fix (RMS at most half of the live one)", lines)
}

/// Starts of which nothing is told.
pub fn unknown(method: Method) -> Lines {
    let mut traces = traces::physics("passage").unwrap_or_default();
    traces.extend(traces::physics("harbour").unwrap_or_default());
    traces.extend(traces::own("cruise"));
    let lines = both_signs(&traces, |trace| {
        let outcome = unknown::follow(method, trace);
        let width = |ratio: f64| percent(ratio / 2.0, true);
        format!(
            "{}  half-width first {} after a day {} last {}",
            figures(&outcome.score, must::BAND),
            width(outcome.width_first),
            width(outcome.width_after_a_day),
            width(outcome.width_last)
        )
    });
    Lines::of("unknown: nothing is told of the start (inside >= 95)", lines)
}

const FAULTS: [Fault; 5] = [Fault::StuckVoltage, Fault::Spikes, Fault::NoTemperature, Fault::ShortGap, Fault::LongGap];

/// Sensors that misbehave; each passage as it is comes first, to compare with. The fault comes after the sensor's noise:
/// what is stuck repeats itself to the last digit.
pub fn disturbed(method: Method) -> Lines {
    let passages = traces::physics("passage").unwrap_or_default();
    let harm = |trace: &Trace, words: &str| {
        let outcome = disturbed::follow(method, trace);
        format!(
            "{words:<21} false fixes {}{} jump {} {}",
            outcome.false_fixes,
            if outcome.false_fixes == 0 { ' ' } else { '*' },
            percent(outcome.greatest_jump, outcome.greatest_jump <= must::JUMP),
            figures(&outcome.score, must::BAND)
        )
    };
    let mut lines = both_signs(&passages, |trace| harm(trace, "no fault"));
    for fault in FAULTS {
        lines.extend(both_signs(&passages, |trace| harm(&disturbed::with(trace, fault), fault.words())));
    }
    Lines::of("disturbed: faults on passages (no false fix, no jump over 1, inside >= 95)", lines)
}
