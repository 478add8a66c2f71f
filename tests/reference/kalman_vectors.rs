//! The vectors of a linear Kalman filter (filterpy; see `generator/`) are whole, so that agreement with them means something.

use serde_json::Value;

fn numbers(value: &Value, key: &str, count: usize) -> Vec<f64> {
    let found: Vec<f64> = value[key].as_array().into_iter().flatten().filter_map(Value::as_f64).collect();
    assert_eq!(found.len(), count, "{key}");
    found
}

#[test]
fn the_vectors_are_whole_and_evidence_never_adds_doubt() {
    let vectors: Value = serde_json::from_str(include_str!("../fixtures/reference/kalman.json")).expect("JSON");
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
