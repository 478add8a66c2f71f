//! A reckoning that is stopped and taken up again goes on as if it had not been.

use taffrail::reckoning::{Method, Reckoner, TimeOff};

use super::{limits, none_misses, say, thinned, voyages};
use crate::support::trial::Trace;
use crate::support::trial::score::holds;
use crate::support::trial::sensor::Sensor;

/// Stops in a voyage, evenly spread.
const STOPS: usize = 7;

/// What a reckoning with stops came to, beside one without.
#[derive(Debug, Default)]
struct Outcome {
    /// Greatest distance between both lines, ratio.
    apart: f64,
    /// Greatest difference of the half-widths of their bands, ratio.
    widened: f64,
    rows: f64,
    held: f64,
}

/// Stops before row `stop`, and takes up at that row, having missed `missed` of them.
fn with_stops(trace: &Trace, missed: usize) -> Outcome {
    let mut unbroken = trace.begin(Method::Filter);
    let mut stopped = unbroken.clone();
    let every = trace.rows.len() / (STOPS + 1);
    let mut outcome = Outcome::default();
    for (at, row) in trace.rows.iter().enumerate() {
        unbroken.step(&row.reading);
        if at >= every && at % every < missed {
            continue;
        }
        if at >= every && at % every == missed {
            let last = trace.rows[at - missed - 1].reading;
            let seconds = if missed == 0 { 0.0 } else { row.reading.t_s - last.t_s };
            let saved = stopped.save();
            stopped = Reckoner::resume(trace.bank.clone(), &saved, TimeOff::Known { seconds }).expect("its own text");
            if missed == 0 {
                // No time has passed: the watch begins with the reading that it had last.
                stopped.step(&last);
            }
        }
        stopped.step(&row.reading);
        let (a, b) = (unbroken.report(), stopped.report());
        outcome.apart = outcome.apart.max((a.soc - b.soc).abs());
        outcome.widened = outcome.widened.max((a.soc_band.width() - b.soc_band.width()).abs() / 2.0);
        outcome.rows += 1.0;
        outcome.held += f64::from(u8::from(row.soc.is_some_and(|truth| holds(b.soc_band, truth.clamp(0.0, 1.0)))));
    }
    outcome
}

#[test]
fn restarts_without_time_off_draw_the_same_line() {
    none_misses(voyages(), |trace| {
        let outcome = with_stops(&thinned(&trace.through(Sensor::erring(1.0))), 0);
        say(&format!("{}: {outcome:?}", trace.name));
        let same = outcome.apart <= limits::RESTARTED && outcome.widened <= limits::RESTARTED_WIDER;
        (!same).then(|| format!("{}: {outcome:?}", trace.name))
    });
}

#[test]
fn restarts_after_a_minute_off_stay_close_and_their_band_holds() {
    none_misses(voyages(), |trace| {
        let outcome = with_stops(&thinned(&trace.through(Sensor::erring(-1.0))), 1);
        say(&format!("{}: {outcome:?}", trace.name));
        let is_good = outcome.apart <= limits::RESTARTED_LATER && outcome.held / outcome.rows >= limits::UNKNOWN.inside;
        (!is_good).then(|| format!("{}: {outcome:?}", trace.name))
    });
}
