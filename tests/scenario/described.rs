//! Banks and sensors that are not as described: a little off is learned, far off is called out.

use taffrail::reckoning::{Method, Suspicion};

use super::sound::suspicions;
use super::{limits, none_misses, say, sensed, sensed_in_turn, voyages};
use crate::support::trial::aged::{find_capacity, twice};
use crate::support::trial::{Trace, must};

/// Voyages played twice, through sensors that err up and down in turn, on banks that truly hold `ratio` of their rating.
fn all_twice(ratio: f64) -> impl Iterator<Item = Trace> {
    sensed_in_turn(voyages().iter().map(|trace| twice(trace, ratio)).collect())
}

fn is_found_after_two_recharges(ratio: f64) {
    none_misses(all_twice(ratio), |trace| {
        let outcome = find_capacity(Method::Filter, &trace, ratio);
        let last = outcome.found[1];
        say(&format!("{}: {last:?} after {:?}, inside {:.3}", trace.name, outcome.found[0], outcome.score.inside()));
        let is_near = (last.ratio - 1.0).abs() <= must::CAPACITY && last.half_width <= limits::CAPACITY_HALF_WIDTH;
        let is_good = last.full_fixes >= 2 && last.holds && is_near;
        (!is_good).then(|| format!("{}: {last:?}", trace.name))
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
fn a_capacity_off_by_a_factor_of_two_is_called_out() {
    for true_ratio in [0.5, 2.0] {
        none_misses(all_twice(true_ratio), |trace| {
            let raised = suspicions(&trace);
            say(&format!("{} at {true_ratio}: {raised:?}", trace.name));
            let is_called_out = raised.iter().any(|suspicion| match suspicion {
                Suspicion::CapacityFarOff { ratio } => (*ratio < 1.0) == (true_ratio < 1.0),
                _ => false,
            });
            (!is_called_out).then(|| format!("{} at {true_ratio}: {raised:?}", trace.name))
        });
    }
}

#[test]
fn a_sensor_wired_the_wrong_way_round_is_called_out() {
    none_misses(sensed(voyages()), |mut trace| {
        trace.rows.iter_mut().for_each(|row| row.reading.current_a = -row.reading.current_a);
        let raised = suspicions(&trace);
        (!raised.contains(&Suspicion::SensorReversed)).then(|| format!("{}: {raised:?}", trace.name))
    });
}
