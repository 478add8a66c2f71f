//! The smoother against filterpy's (`rts_smoother`, after Rauch, Tung & Striebel) on a linear case of four
//! quantities, which take the first places of the state; the others stand still.

use serde_json::Value;

use super::*;
use crate::reckoning::filter::model::N;
use crate::reckoning::gaussian::Gaussian;

/// Quantities of the case.
const CASE: usize = 4;
/// The vectors are rounded nowhere; a knot is found through a matrix of all places, by another way than filterpy's inverse.
const TOLERANCE: f64 = 1e-9;

fn numbers(value: &Value, key: &str) -> Vec<f64> {
    value[key].as_array().into_iter().flatten().filter_map(Value::as_f64).collect()
}

fn add(covariance: &mut Matrix<N>, values: &[f64]) {
    for (at, value) in values.iter().enumerate() {
        covariance[at / CASE][at % CASE] += value;
    }
}

/// Steps along the vectors, with a knot after each `every`; the filtered charge at each step comes with the smoothed knots.
fn walked(vectors: &Value, every: usize) -> (Vec<f64>, Vec<SmoothedKnot>) {
    let mut normal: Gaussian<N> =
        Gaussian::independent([0.0; N], std::array::from_fn(|i| if i < CASE { 0.0 } else { 1.0 }));
    normal.mean[..CASE].copy_from_slice(&numbers(vectors, "x0"));
    add(&mut normal.covariance, &numbers(vectors, "p0"));
    let mut trail = Trail::begin(&normal);
    let mut charges = vec![normal.mean[CHARGE]];
    for (index, step) in vectors["steps"].as_array().expect("steps").iter().enumerate() {
        let f = numbers(step, "f");
        let before = normal.mean;
        for (i, row) in f.chunks(CASE).enumerate() {
            normal.mean[i] = row.iter().zip(before).map(|(a, b)| a * b).sum();
        }
        let identity = |i: usize, j: usize| if i == j { 1.0 } else { 0.0 };
        let elements: Vec<Element> = f
            .iter()
            .enumerate()
            .map(|(at, value)| (at / CASE, at % CASE, value - identity(at / CASE, at % CASE)))
            .collect();
        normal.spread(&elements, &[]);
        trail.spread(&elements);
        add(&mut normal.covariance, &numbers(step, "q"));
        for measurement in step["measurements"].as_array().expect("measurements") {
            let row: Vec<Part> = numbers(measurement, "h").into_iter().enumerate().collect();
            let expected: f64 = row.iter().map(|&(i, part)| part * normal.mean[i]).sum();
            let number = |key: &str| measurement[key].as_f64().expect("a number");
            let update = normal.update(&row, number("z") - expected, number("r"));
            trail.update(&row, &update);
        }
        charges.push(normal.mean[CHARGE]);
        trail.elapsed_s += 1.0;
        if (index + 1) % every == 0 {
            trail.knot(&normal);
        }
    }
    (charges, trail.smoothed())
}

fn assert_smoothed_as_published(every: usize) {
    let vectors: Value =
        serde_json::from_str(include_str!("../../../../tests/fixtures/reference/kalman.json")).expect("JSON");
    let (charges, knots) = walked(&vectors, every);
    assert_eq!(knots.len(), 200 / every + 1);
    for (place, knot) in knots.iter().enumerate().skip(1) {
        let index = place * every;
        let step = &vectors["steps"][index - 1];
        let (mean, std_dev) = (numbers(step, "smoothed_x")[0], numbers(step, "smoothed_p")[0].sqrt());
        let found = charges[index] + knot.correction;
        assert!((found - mean).abs() < TOLERANCE, "step {index}: {found}, want {mean}");
        assert!((knot.std_dev - std_dev).abs() < TOLERANCE, "step {index}: {}, want {std_dev}", knot.std_dev);
    }
}

#[test]
fn a_knot_at_each_step_is_smoothed_as_filterpy_smooths_it() {
    assert_smoothed_as_published(1);
}

#[test]
fn knots_far_apart_are_smoothed_the_same_with_all_the_evidence_between() {
    assert_smoothed_as_published(8);
}
