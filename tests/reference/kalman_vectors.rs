//! The filter's algebra against a linear Kalman filter (filterpy; see `generator/`).

use serde_json::Value;
use taffrail::reckoning::gaussian::{Element, Gaussian, Part};

/// The vectors are rounded nowhere: what differs is the order of sums.
const TOLERANCE: f64 = 1e-9;

fn vectors() -> Value {
    serde_json::from_str(include_str!("../fixtures/reference/kalman.json")).expect("JSON")
}

fn vector(value: &Value, key: &str) -> [f64; 4] {
    numbers(value, key, 4).try_into().expect("four numbers")
}

/// A matrix that is written row by row.
fn matrix(value: &Value, key: &str) -> [[f64; 4]; 4] {
    let all = numbers(value, key, 16);
    std::array::from_fn(|i| std::array::from_fn(|j| all[4 * i + j]))
}

fn numbers(value: &Value, key: &str, count: usize) -> Vec<f64> {
    let found: Vec<f64> = value[key].as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    assert_eq!(found.len(), count, "{key}");
    found
}

/// So that agreement with them means something.
#[test]
fn the_vectors_are_whole_and_evidence_never_adds_doubt() {
    let vectors = vectors();
    let pinned = include_str!("generator/requirements.txt")
        .lines()
        .find_map(|line| line.strip_prefix("filterpy=="))
        .expect("a pinned version");
    assert_eq!(vectors["versions"]["filterpy"], pinned);
    numbers(&vectors, "x0", 4);
    numbers(&vectors, "p0", 16);
    let steps = vectors["steps"].as_array().expect("steps");
    assert_eq!(steps.len(), 200);
    for step in steps {
        numbers(step, "f", 16);
        numbers(step, "q", 16);
        for measurement in step["measurements"].as_array().expect("measurements") {
            numbers(measurement, "h", 4);
            assert!(measurement["z"].is_f64() && measurement["r"].as_f64() > Some(0.0), "{measurement}");
        }
        let moments = ["predicted", "updated", "smoothed"].map(|kind| {
            numbers(step, &format!("{kind}_x"), 4);
            numbers(step, &format!("{kind}_p"), 16)
        });
        for diagonal in [0, 5, 10, 15] {
            let [predicted, updated, smoothed] = [0, 1, 2].map(|kind| moments[kind][diagonal]);
            assert!(0.0 < smoothed && smoothed <= updated + 1e-12 && updated <= predicted + 1e-12, "{step}");
        }
    }
    let last = &steps[steps.len() - 1];
    assert_eq!(last["smoothed_x"], last["updated_x"]);
    let counts: Vec<usize> = steps.iter().filter_map(|step| step["measurements"].as_array().map(Vec::len)).collect();
    assert!((0..3).all(|count| counts.contains(&count)), "steps with none, one and two measurements");
}

/// Moves a distribution by one step of the vectors. The filter's transitions are told by what they differ in from the
/// identity, and its noise lies on the diagonal; what the vectors have beside it is added here.
fn predict(normal: &mut Gaussian<4>, step: &Value) {
    let (f, q) = (matrix(step, "f"), matrix(step, "q"));
    let mean = normal.mean;
    normal.mean = f.map(|row| row.iter().zip(mean).map(|(a, b)| a * b).sum());
    let places = (0..4).flat_map(|i| (0..4).map(move |j| (i, j)));
    let elements: Vec<Element> =
        places.clone().map(|(i, j)| (i, j, f[i][j] - if i == j { 1.0 } else { 0.0 })).collect();
    let diagonal: Vec<Part> = (0..4).map(|i| (i, q[i][i])).collect();
    normal.spread(&elements, &diagonal);
    for (i, j) in places.filter(|(i, j)| i != j) {
        normal.covariance[i][j] += q[i][j];
    }
}

fn assert_near(normal: &Gaussian<4>, step: &Value, kind: &str, at: usize) {
    let (mean, covariance) = (vector(step, &format!("{kind}_x")), matrix(step, &format!("{kind}_p")));
    for (got, want) in normal.mean.iter().zip(mean) {
        assert!((got - want).abs() < TOLERANCE, "{kind} {at}: {got}, want {want}");
    }
    for (got, want) in normal.covariance.iter().flatten().zip(covariance.iter().flatten()) {
        assert!((got - want).abs() < TOLERANCE, "{kind} {at}: {got}, want {want}");
    }
}

/// filterpy (`KalmanFilter`, Joseph form): two hundred steps with none, one and two scalar measurements each.
#[test]
fn two_hundred_steps_move_mean_and_covariance_as_filterpy_does() {
    let vectors = vectors();
    let mut normal = Gaussian { mean: vector(&vectors, "x0"), covariance: matrix(&vectors, "p0") };
    for (at, step) in vectors["steps"].as_array().expect("steps").iter().enumerate() {
        predict(&mut normal, step);
        assert_near(&normal, step, "predicted", at);
        for measurement in step["measurements"].as_array().expect("measurements") {
            let number = |key: &str| measurement[key].as_f64().expect("a number");
            let h = vector(measurement, "h");
            let expected: f64 = h.iter().zip(normal.mean).map(|(a, b)| a * b).sum();
            let row: Vec<Part> = h.iter().copied().enumerate().collect();
            normal.update(&row, number("z") - expected, number("r"));
        }
        assert_near(&normal, step, "updated", at);
    }
}
