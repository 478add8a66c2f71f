//! Rainflow counting against ASTM E1049-85, the package rainflow (see `generator/`), and the standard's rule on whole series.

use proptest::prelude::*;
use serde_json::Value;
use taffrail::health::cycles::{Rainflow, Swing};

/// One value after the other; what is open at the end comes last.
fn streamed(values: &[f64]) -> Vec<Swing<usize>> {
    let mut rainflow = Rainflow::new(0.0);
    let mut swings: Vec<Swing<usize>> = values.iter().enumerate().flat_map(|(i, v)| rainflow.take(i, *v)).collect();
    swings.extend(rainflow.residue());
    swings
}

/// ASTM E1049-85, worked example of its section on rainflow counting, with places (as the package rainflow gives them): ranges 3
/// (0.5), 4 (1.5), 6 (0.5), 8 (1.0), 9 (0.5).
#[test]
fn the_standards_example_is_counted_as_printed() {
    let got: Vec<(f64, f64, f64, usize, usize)> = streamed(&[-2.0, 1.0, -3.0, 5.0, -1.0, 3.0, -4.0, 4.0, -2.0])
        .iter()
        .map(|s| (s.range, s.mean, s.count, s.from, s.to))
        .collect();
    let want = [
        (3.0, -0.5, 0.5, 0, 1),
        (4.0, -1.0, 0.5, 1, 2),
        (4.0, 1.0, 1.0, 4, 5),
        (8.0, 1.0, 0.5, 2, 3),
        (9.0, 0.5, 0.5, 3, 6),
        (8.0, 0.0, 0.5, 6, 7),
        (6.0, 1.0, 0.5, 7, 8),
    ];
    assert_eq!(got, want);
}

/// States of charge in percent: ranges 15, 5 and 45 once, 60 twice half (by the package rainflow).
#[test]
fn states_of_charge_make_four_cycles() {
    let swings = streamed(&[100.0, 70.0, 85.0, 40.0, 60.0, 55.0, 95.0, 50.0, 100.0]);
    for (range, count) in [(15.0, 1.0), (5.0, 1.0), (45.0, 1.0), (60.0, 1.0)] {
        let got: f64 = swings.iter().filter(|s| (s.range - range).abs() < 1e-9).map(|s| s.count).sum();
        assert!((got - count).abs() < 1e-12, "{range}: {got}");
    }
    assert!((swings.iter().map(|s| s.count).sum::<f64>() - 4.0).abs() < 1e-12);
}

#[test]
fn cycles_are_those_of_the_package_in_its_order() {
    let vectors: Value = serde_json::from_str(include_str!("../fixtures/reference/cycles.json")).expect("JSON");
    let pinned = include_str!("generator/requirements.txt").lines().find_map(|line| line.strip_prefix("rainflow=="));
    assert_eq!(vectors["versions"]["rainflow"].as_str(), pinned);
    for one in vectors["series"].as_array().expect("series") {
        let numbers =
            |value: &Value| value.as_array().expect("numbers").iter().map(|v| v.as_f64().expect("a number")).collect();
        let values: Vec<f64> = numbers(&one["values"]);
        let got = streamed(&values);
        let want = one["cycles"].as_array().expect("cycles");
        assert_eq!(got.len(), want.len(), "{}", one["what"]);
        for (swing, want) in got.iter().zip(want) {
            let want: Vec<f64> = numbers(want);
            let close = |got: f64, want: f64| (got - want).abs() < 1e-12;
            assert!(
                close(swing.range, want[0]) && close(swing.mean, want[1]) && close(swing.count, want[2]),
                "{}: {swing:?}, want {want:?}",
                one["what"]
            );
            // The places are told by their values, since the package takes the end of a plateau and we its beginning.
            let place = |at: f64| values.iter().zip(0_u32..).find(|(_, i)| close(f64::from(*i), at)).map(|(v, _)| *v);
            assert_eq!((Some(values[swing.from]), Some(values[swing.to])), (place(want[3]), place(want[4])));
        }
    }
}

/// The first line of the README of the package rainflow: 201 points of `0.2 + 0.5 sin t + 0.2 cos 10 t + 0.2 sin 4 t`, t from 0 to 4.
#[test]
fn the_packages_own_example_begins_and_ends_as_its_readme_says() {
    let values: Vec<f64> = (0..201_u32)
        .map(|i| f64::from(i) / 50.0)
        .map(|t| 0.2 + 0.5 * t.sin() + 0.2 * (10.0 * t).cos() + 0.2 * (4.0 * t).sin())
        .collect();
    let mut ranges: Vec<(f64, f64)> = streamed(&values).iter().map(|s| (s.range, s.count)).collect();
    ranges.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert_eq!(ranges.len(), 10);
    for (got, want) in [(ranges[0], 0.042_589_651_507_084_88), (ranges[9], 1.434_361_017_214_300_2)] {
        assert!((got.0 - want).abs() < 1e-9 && (got.1 - 0.5).abs() < 1e-12, "{got:?}");
    }
}

/// The standard's rule on a whole series: all turning points first, then the three-point rule along them.
fn batch(values: &[f64]) -> Vec<(f64, f64, f64)> {
    let mut turns: Vec<f64> = Vec::new();
    for &value in values {
        match turns[..] {
            [.., last] if (last - value).abs() <= 0.0 => {}
            [.., before, last] if (last - before) * (value - last) > 0.0 => *turns.last_mut().expect("two") = value,
            _ => turns.push(value),
        }
    }
    let (mut found, mut stack) = (Vec::new(), Vec::new());
    for turn in turns {
        stack.push(turn);
        while let [.., a, b, c] = stack[..] {
            if (c - b).abs() < (b - a).abs() {
                break;
            }
            let whole = stack.len() > 3;
            found.push(((b - a).abs(), f64::midpoint(a, b), if whole { 1.0 } else { 0.5 }));
            let at = stack.len() - 3;
            stack.drain(if whole { at..at + 2 } else { 0..1 });
        }
    }
    found.extend(stack.windows(2).map(|p| ((p[1] - p[0]).abs(), f64::midpoint(p[0], p[1]), 0.5)));
    found
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn streaming_saved_and_resumed_at_any_value_equals_the_rule_on_the_whole_series(
        levels in proptest::collection::vec(0..=20_u8, 0..200), stops in proptest::collection::vec(any::<bool>(), 200),
    ) {
        let values: Vec<f64> = levels.iter().map(|level| f64::from(*level) / 20.0).collect();
        let mut rainflow: Rainflow<usize> = Rainflow::new(0.0);
        let mut got = Vec::new();
        for (i, value) in values.iter().enumerate() {
            if stops[i] {
                rainflow = serde_json::from_str(&serde_json::to_string(&rainflow).expect("JSON")).expect("its own text");
            }
            got.extend(rainflow.take(i, *value));
        }
        got.extend(rainflow.residue());
        let got: Vec<(f64, f64, f64)> = got.iter().map(|s| (s.range, s.mean, s.count)).collect();
        prop_assert_eq!(got, batch(&values));
    }

    #[test]
    fn with_a_smallest_swing_nothing_smaller_is_counted_and_the_deepest_stays(
        levels in proptest::collection::vec(0.0..1.0_f64, 2..200), smallest in 0.0..0.3_f64,
    ) {
        let mut rainflow = Rainflow::new(smallest);
        let mut swings: Vec<Swing<usize>> = levels.iter().enumerate().flat_map(|(i, v)| rainflow.take(i, *v)).collect();
        swings.extend(rainflow.residue());
        let (low, high) = levels.iter().fold((1.0_f64, 0.0_f64), |(low, high), v| (low.min(*v), high.max(*v)));
        prop_assert!(swings.iter().all(|s| s.range >= smallest));
        let deepest = swings.iter().map(|s| s.range).fold(0.0, f64::max);
        prop_assert!(deepest <= high - low && deepest >= high - low - 2.0 * smallest, "{} of {}", deepest, high - low);
    }
}
