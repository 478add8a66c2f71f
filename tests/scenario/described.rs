//! Banks and sensors that are not as described: a little off is learned, far off is called out.

use taffrail::reckoning::{Method, Suspicion};

use super::sound::suspicions;
use super::{limits, none_misses, say, sensed, sensed_in_turn, voyages};
use crate::support::trial::Trace;
use crate::support::trial::aged::{find_capacity, twice};

/// Voyages played twice, through sensors that err up and down in turn, on banks that truly hold `ratio` of their rating.
fn all_twice(ratio: f64) -> impl Iterator<Item = Trace> {
    sensed_in_turn(voyages().iter().map(|trace| twice(trace, ratio)).collect())
}

fn is_found_after_two_recharges(ratio: f64) {
    none_misses(all_twice(ratio), |trace| {
        let outcome = find_capacity(Method::Filter, &trace, ratio);
        let (last, inside) = (outcome.found[1], outcome.score.inside());
        let line = format!("{}: {last:?} after {:?}, inside {inside:.3}", trace.name, outcome.found[0]);
        say(&line);
        let limit = limits::capacity(&trace.name, ratio);
        let error = (last.ratio - 1.0).abs();
        let outside = if last.holds { 0.0 } else { error - last.half_width };
        let is_near = error <= limit.error && outside <= limit.outside;
        let is_good = last.full_fixes >= 2 && is_near && last.half_width <= limit.half_width && inside >= limit.inside;
        (!is_good).then_some(line)
    });
}

#[test]
fn capacity_fifteen_percent_below_the_rating_is_found_within_two_recharges() {
    is_found_after_two_recharges(0.85);
}

#[test]
fn capacity_as_rated_stays_as_rated() {
    is_found_after_two_recharges(1.0);
}

#[test]
fn capacity_fifteen_percent_above_the_rating_is_found_within_two_recharges() {
    is_found_after_two_recharges(1.15);
}

#[test]
fn a_capacity_of_half_the_rating_is_called_out() {
    none_misses(all_twice(0.5), |trace| {
        let (said, _) = said_of_capacity(&trace);
        let is_called_out = !said.is_empty() && said.iter().all(|ratio| *ratio < 1.0);
        (!is_called_out).then(|| format!("{}: {said:?}", trace.name))
    });
}

#[test]
fn a_capacity_of_twice_the_rating_is_called_out() {
    none_misses(all_twice(2.0), |trace| {
        let (said, reckoned) = said_of_capacity(&trace);
        // Where no limit is, nothing but a call will do.
        let error = limits::reached(limits::TWICE_UNSAID, &trace.name, f64::NEG_INFINITY);
        let is_called_out = !said.is_empty() || (reckoned / 2.0 - 1.0).abs() <= error;
        let is_good = is_called_out && said.iter().all(|ratio| *ratio > 1.0);
        (!is_good).then(|| format!("{}: {said:?}, reckoned as {reckoned:.3} of the rating", trace.name))
    });
}

/// Each capacity that was called far off along a trace, and what is reckoned of it at the end, in parts of the rating.
fn said_of_capacity(trace: &Trace) -> (Vec<f64>, f64) {
    let mut reckoner = trace.begin(Method::Filter);
    let mut said = Vec::new();
    for row in &trace.rows {
        reckoner.step(&row.reading);
        if let Some(Suspicion::CapacityFarOff { ratio }) = reckoner.take_suspicion() {
            said.push(ratio);
        }
    }
    let reckoned = reckoner.report().capacity_ah / trace.bank.rated_capacity_ah;
    say(&format!("{}: called out as {said:.3?}, reckoned as {reckoned:.3} of the rating", trace.name));
    (said, reckoned)
}

#[test]
fn a_sensor_wired_the_wrong_way_round_is_called_out() {
    none_misses(sensed(voyages()), |mut trace| {
        trace.rows.iter_mut().for_each(|row| row.reading.current_a = -row.reading.current_a);
        let raised = suspicions(&trace);
        (!raised.contains(&Suspicion::SensorReversed)).then(|| format!("{}: {raised:?}", trace.name))
    });
}
