//! The traces of model batteries (PyBaMM; see `generator/`) hold together, so that tests against them mean something.

use crate::support::TruthRow;
use crate::support::columns_of;
use crate::support::fixture::{
    TRUTH_COLUMNS, reference_fixture, reference_fixture_every, reference_names, reference_rates, reference_text,
};

/// What a trace's name says of its bank: rated capacity (Ah at 20 h) and cut-off voltage.
fn bank(name: &str) -> (f64, f64) {
    if name.contains("lead") { (120.0, 24.0 * 1.75) } else { (280.0, 16.0 * 2.5) }
}

/// Charge as a ratio of `rated_ah`, counted by trapezoids from the first of (seconds, amperes) to each.
fn counted(points: &[(f64, f64)], rated_ah: f64) -> Vec<f64> {
    let mut sum = 0.0;
    let steps = points.windows(2).map(|p| (p[1].0 - p[0].0) * (p[1].1 + p[0].1) / 2.0 / 3600.0 / rated_ah);
    std::iter::once(0.0)
        .chain(steps.map(|step| {
            sum += step;
            sum
        }))
        .collect()
}

fn worst_error(rows: &[TruthRow], counted: &[f64]) -> f64 {
    let start = rows[0].soc.expect("truth");
    rows.iter().zip(counted).map(|(row, moved)| (row.soc.expect("truth") - start - moved).abs()).fold(0.0, f64::max)
}

/// The number after `words` in the head of a trace.
fn stated(text: &str, words: &str) -> f64 {
    let rest = text.split_once(words).unwrap_or_else(|| panic!("no {words:?} in the head")).1;
    let number: String = rest.trim_start().chars().take_while(|c| c.is_ascii_digit() || *c == '.').collect();
    number.parse().expect("a number")
}

#[test]
fn every_trace_says_what_made_it() {
    let pinned = include_str!("generator/requirements.txt")
        .lines()
        .find_map(|line| line.strip_prefix("pybamm=="))
        .expect("a pinned version");
    let names = reference_names();
    assert!(names.len() >= 24, "{names:?}");
    for name in names {
        let text = reference_text(&name);
        let head: Vec<&str> = text.lines().take_while(|line| line.starts_with("# ")).collect();
        for words in ["# generator ", &format!("# pybamm {pinned}, seed "), "# scenario "] {
            assert!(head.iter().any(|line| line.starts_with(words)), "{name}: no {words:?}");
        }
        assert!(head.iter().any(|line| line.contains(&format!("{} Ah at 20 h", bank(&name).0))), "{name}");
        assert!(text.lines().nth(head.len()).is_some_and(|line| line.starts_with(&TRUTH_COLUMNS.join(","))), "{name}");
    }
}

#[test]
fn current_counts_up_to_the_true_state_of_charge() {
    for name in reference_names() {
        let text = reference_text(&name);
        let current: Vec<(f64, f64)> = if text.contains(",side_reaction_a") {
            columns_of(&text, ["t_s", "current_a", "side_reaction_a"])
                .into_iter()
                .map(|[t, a, side]| (t.expect("t"), a.expect("a") - side.expect("side")))
                .collect()
        } else {
            reference_fixture(&name).iter().map(|row| (row.reading.t_s, row.reading.current_a)).collect()
        };
        let error = worst_error(&reference_fixture(&name), &counted(&current, bank(&name).0));
        assert!(error < 5e-4, "{name}: {error}");
    }
}

#[test]
fn resampling_keeps_the_count() {
    for name in ["endurance_lead_70_c5", "endurance_lfp_30_c2"] {
        let rows = reference_fixture_every(name, 10.0);
        assert!(rows.windows(2).all(|p| p[1].reading.t_s > p[0].reading.t_s), "{name}: time runs back");
        assert!(rows.windows(2).all(|p| p[1].reading.t_s - p[0].reading.t_s <= 10.0 + 1e-9), "{name}: a gap");
        let current: Vec<(f64, f64)> = rows.iter().map(|row| (row.reading.t_s, row.reading.current_a)).collect();
        let error = worst_error(&rows, &counted(&current, bank(name).0));
        assert!(error < 1e-4, "{name}: {error}");
        assert_eq!(rows.last().map(|r| r.soc), reference_fixture(name).last().map(|r| r.soc));
    }
}

#[test]
fn endurance_traces_start_full_and_rested_and_end_at_the_cut_off_under_their_load() {
    let names: Vec<String> = reference_names().into_iter().filter(|name| name.starts_with("endurance_")).collect();
    assert_eq!(names.len(), 24, "{names:?}");
    for name in names {
        let (rated_ah, cutoff_v) = bank(&name);
        let rows = reference_fixture(&name);
        let text = reference_text(&name);
        let (first, last) = (rows[0], rows[rows.len() - 1]);
        assert!(first.soc == Some(1.0) && first.reading.current_a.abs() < 1e-9, "{name}: {first:?}");
        assert!((last.reading.voltage_v - cutoff_v).abs() < 0.002, "{name}: {last:?}");
        assert!(rows[..rows.len() - 1].iter().all(|row| row.reading.voltage_v > cutoff_v), "{name}: below the cut-off");

        let (load_from_s, load_a) = (stated(&text, "from t_s"), stated(&text, "# load"));
        assert!((last.reading.t_s - stated(&text, "cut-off at t_s")).abs() < 1e-3, "{name}");
        let hours: f64 = name.rsplit_once("_c").expect("a rate").1.parse().expect("hours");
        assert!((load_a - rated_ah / hours).abs() < 1e-9, "{name}: {load_a} A");
        let level: f64 = name.split('_').nth(2).expect("a level").parse().expect("a percentage");
        for row in &rows {
            let since = row.reading.t_s - load_from_s;
            let rests = (10.0 - 3600.0..=0.0).contains(&since);
            let expected_a = if rests { 0.0 } else { -load_a };
            if rests || since >= 10.0 {
                assert!((row.reading.current_a - expected_a).abs() < 1e-3, "{name}: {row:?}");
            }
            if rests {
                assert!((row.soc.expect("truth") - level / 100.0).abs() < 1e-4, "{name}: {row:?}");
            }
        }
    }
}

#[test]
fn cruises_go_from_full_to_full_with_a_deep_run_between() {
    for name in ["cruise_lead", "cruise_lfp"] {
        let rows = reference_fixture(name);
        let days = rows[rows.len() - 1].reading.t_s / 86_400.0;
        assert!((3.9..4.1).contains(&days), "{name}: {days} days");
        assert_eq!(rows[0].soc, Some(1.0), "{name}");
        let deepest = rows.iter().filter_map(|row| row.soc).fold(1.0, f64::min);
        assert!((0.1..0.25).contains(&deepest), "{name}: {deepest}");
        assert!(rows.iter().all(|row| row.reading.voltage_v > bank(name).1), "{name}: below the cut-off");

        let text = reference_text(name);
        let (limit_v, tail_a, tail_s) =
            (stated(&text, "charger holds"), stated(&text, "tail"), stated(&text, "A at t_s"));
        let at_tail = rows.iter().min_by(|a, b| {
            let distance = |row: &TruthRow| (row.reading.t_s - tail_s).abs();
            distance(a).total_cmp(&distance(b))
        });
        let at_tail = at_tail.expect("rows").reading;
        assert!((at_tail.current_a - tail_a).abs() < 0.05 * tail_a, "{name}: {at_tail:?}");
        assert!((at_tail.voltage_v - limit_v).abs() < 0.1, "{name}: {at_tail:?}");
        let charged = stated(&text, "state of charge of");
        assert!(charged > 0.995, "{name}: {charged}");
        let between = rows.iter().filter(|row| (10_800.0..tail_s - 7200.0).contains(&row.reading.t_s));
        assert!(between.filter_map(|row| row.soc).all(|soc| soc < 0.9), "{name}: full in between");
    }
}

#[test]
fn faster_discharge_takes_less_and_twenty_hours_take_the_rating() {
    for (name, rated_ah) in [("lead", 120.0), ("lfp", 280.0)] {
        let rates = reference_rates(name);
        assert_eq!(rates.len(), 5);
        assert!((rates[0].0 - 20.0).abs() < 1e-3 && (rates[0].1 - rated_ah).abs() < 0.01, "{name}: {rates:?}");
        assert!(rates.windows(2).all(|pair| pair[1].0 < pair[0].0 && pair[1].1 < pair[0].1), "{name}: {rates:?}");
    }
}
