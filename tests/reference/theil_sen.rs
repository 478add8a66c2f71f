//! The Theil-Sen line against `scipy.stats.theilslopes` (see `generator/`) and against a case by hand.

use serde_json::Value;
use taffrail::health::fade::theil_sen;

/// What differs is the order of sums.
const TOLERANCE: f64 = 1e-9;

#[test]
fn slope_intercept_and_range_are_those_of_scipy() {
    let vectors: Value = serde_json::from_str(include_str!("../fixtures/reference/theil_sen.json")).expect("JSON");
    let pinned = include_str!("generator/requirements.txt").lines().find_map(|line| line.strip_prefix("scipy=="));
    assert_eq!(vectors["versions"]["scipy"].as_str(), pinned);
    let series = vectors["series"].as_array().expect("series");
    assert_eq!(series.len(), 6);
    for one in series {
        let numbers = |key: &str| one[key].as_array().expect(key).iter().map(|v| v.as_f64().expect("a number"));
        let points: Vec<(f64, f64)> = numbers("x").zip(numbers("y")).collect();
        let line = theil_sen(&points, one["confidence"].as_f64().expect("a number")).expect("a line");
        for (got, key) in [
            (line.slope, "slope"),
            (line.intercept, "intercept"),
            (line.slope_range.low, "low_slope"),
            (line.slope_range.high, "high_slope"),
        ] {
            let want = one[key].as_f64().expect("a number");
            assert!((got - want).abs() <= TOLERANCE * want.abs().max(1.0), "{} {key}: {got}, want {want}", one["what"]);
        }
    }
}

/// By hand: the slopes between (0, 0), (1, 1), (2, 3), (3, 4) are 1, 1.5, 4/3, 2, 1.5, 1; their median is 17/12 (P. K. Sen 1968).
#[test]
fn six_slopes_by_hand() {
    let line = theil_sen(&[(0.0, 0.0), (1.0, 1.0), (2.0, 3.0), (3.0, 4.0)], 0.95).expect("a line");
    assert!((line.slope - 17.0 / 12.0).abs() < 1e-12 && (line.intercept - (2.0 - 1.5 * 17.0 / 12.0)).abs() < 1e-12);
}
