use super::*;
use crate::battery::Chemistry;
use crate::health::test::Verdict;
use crate::health::toys::{steady, still};
use crate::quantity::{BootNo, Extreme, MINUTE_MS, MonoMs, Spread};

const READY: Latest =
    Latest { full_ago_s: Some(7200.0), taken_since_full_ah: 0.2, rest_s: 5400.0, temperature_c: Some(25.0) };

fn bank() -> Bank {
    Bank::new("house", Chemistry::Flooded, 24, 100.0, 10.0).expect("possible")
}

fn at(minute: i64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs(minute * MINUTE_MS) }
}

fn minute(number: i64, current_a: f64, voltage_v: (f64, f64, f64)) -> Minute {
    let extreme = |value: f64| Extreme { value, at: at(number).mono };
    let (low, mean, high) = voltage_v;
    let voltage_v = Some(Spread { mean, min: extreme(low), max: extreme(high) });
    Minute { voltage_v, temperature_c: Some(25.0), ..steady(at(number), current_a) }
}

fn flat(number: i64, current_a: f64, voltage_v: f64) -> Minute {
    minute(number, current_a, (voltage_v, voltage_v, voltage_v))
}

fn started(bank: &Bank, anyway: bool) -> TestBody {
    let aboard = Aboard { bank, branches: &[] };
    TestBody::start(&aboard, at(0), READY, None, None, anyway).expect("ready")
}

#[test]
fn a_bank_that_is_not_ready_is_refused_with_what_to_do() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    for (latest, about, word) in [
        (Latest { full_ago_s: None, ..READY }, About::Full, "Charge it"),
        (Latest { full_ago_s: Some(2e5), ..READY }, About::Full, "Charge it"),
        (Latest { taken_since_full_ah: 3.0, ..READY }, About::Full, "Charge it again"),
        (Latest { rest_s: 600.0, ..READY }, About::Rested, "wait 50 min"),
    ] {
        let unmet = TestBody::start(&aboard, at(0), latest, None, None, false).expect_err("not ready");
        assert_eq!(unmet.len(), 1);
        assert_eq!(unmet[0].about, about);
        assert!(unmet[0].text.contains(word), "{}", unmet[0].text);
        let body = TestBody::start(&aboard, at(0), latest, None, None, true).expect("anyway");
        assert_eq!(body.asked.unmet, unmet);
    }
    let cold = TestBody::start(&aboard, at(0), Latest { temperature_c: Some(5.0), ..READY }, None, None, false);
    assert!(cold.expect("it is corrected").words[0].contains("corrected"));
}

#[test]
fn a_cut_off_within_the_first_minute_of_load_gives_no_result() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    let mut body = started(&bank, false);
    assert_eq!(body.minute(&aboard, &flat(0, -10.0, 43.0)), None);
    assert_eq!(body.minute(&aboard, &flat(1, -10.0, 40.0)), Some(Ended::Broken));
    assert!(body.result.is_none() && body.words.iter().any(|word| word.contains("no result")), "{body:?}");
}

#[test]
fn a_steady_load_to_the_cut_off_gives_the_charge_to_the_second() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    let mut body = started(&bank, false);
    // 10 A for 9 h; 42 V is crossed a quarter of the way from the middle of the last minute but one to that of the last.
    for number in 0..30 {
        assert_eq!(body.minute(&aboard, &flat(number, 0.0, 51.0)), None, "no load yet");
    }
    for number in 30..30 + 540 {
        assert_eq!(body.minute(&aboard, &flat(number, -10.0, 42.1)), None);
    }
    assert!(body.text().contains("Switch on a steady load"), "{}", body.text());
    assert_eq!(body.minute(&aboard, &flat(570, -10.0, 41.7)), Some(Ended::AtCutOff));
    assert!(!body.text().contains("Switch on"), "what was to be done is done: {}", body.text());
    let result = body.result.as_ref().expect("a result");
    // 540 min, less the half minute after the middle of the last of them, and a quarter of a minute more.
    let hours = (540.0 - 0.5 + 0.25) / 60.0;
    assert!((result.charge_ah - 10.0 * hours).abs() < 1e-9, "{}", result.charge_ah);
    assert!((result.hours - hours).abs() < 1e-9);
    assert_eq!(result.verdict, Verdict::Degraded);
    let measured = body.measured(&aboard).expect("it was full");
    assert_eq!(measured.finding.watched, Watched::Test);
    assert!((measured.finding.charge_ah - result.charge_ah - 0.2).abs() < 1e-9, "since full");
    let saved = serde_json::to_string(&body).expect("JSON");
    assert!(saved.contains("\"time_adjusted\":0."), "{saved}");
    assert_eq!(serde_json::from_str::<TestBody>(&saved).expect("what was saved"), body);
}

#[test]
fn a_load_that_is_cut_off_by_its_own_guard_ends_the_test_there() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    // The cut-off is 42 V; the guard's voltmeter may see it a little earlier than ours, and between two of our samples.
    for (least_v, expected) in
        [(41.9, Ended::AtCutOff), (42.15, Ended::AtCutOff), (42.5, Ended::AtCutOff), (42.8, Ended::Broken)]
    {
        let mut body = started(&bank, false);
        for number in 0..480 {
            // A dip in between, as of a pump: no end.
            let dip = if number == 100 { 41.5 } else { 43.0 };
            assert_eq!(body.minute(&aboard, &minute(number, -10.0, (dip, 43.0, 43.0))), None);
        }
        assert_eq!(body.minute(&aboard, &minute(480, -5.0, (least_v, 44.0, 47.0))), None);
        assert_eq!(body.minute(&aboard, &flat(481, 0.0, 48.0)), Some(expected), "{least_v} V");
        let charge_ah = body.result.map(|result| result.charge_ah);
        let counted = charge_ah.is_some_and(|ah| (ah - (80.0 + 5.0 / 60.0)).abs() < 1e-9);
        assert_eq!(counted, expected == Ended::AtCutOff, "{charge_ah:?}");
    }
}

/// The same with a weak monobloc among four: it has what the others leave of the bank's voltage.
fn with_weak(minute: Minute, weak: (f64, f64)) -> Minute {
    let others = minute.voltage_v.map_or(0.0, |v| (v.mean - weak.0) / 3.0);
    let mut monobloc_v = vec![still(minute.at, others); 4];
    monobloc_v[2] =
        still(minute.at, weak.0).map(|v| Spread { min: Extreme { value: weak.1, at: minute.at.mono }, ..v });
    Minute { monobloc_v, ..minute }
}

#[test]
fn a_monobloc_about_to_be_reversed_ends_the_test_and_is_named() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    // Six cells: five at 1.75 V and one at 1 V are 9.75 V. It is crossed half of the way between the middles of two minutes.
    let mut body = started(&bank, false);
    for number in 0..480 {
        assert_eq!(body.minute(&aboard, &with_weak(flat(number, -10.0, 44.0), (10.0, 10.0))), None);
    }
    let ended = body.minute(&aboard, &with_weak(flat(480, -10.0, 43.0), (9.5, 9.3)));
    assert_eq!((ended, body.progress.weakest), (Some(Ended::AtCutOff), Some(3)));
    let charge_ah = body.result.as_ref().expect("a result").charge_ah;
    assert!((charge_ah - 80.0).abs() < 1e-9, "{charge_ah}");
    assert!(body.words.iter().any(|word| word.starts_with("Monobloc 3 ")), "{:?}", body.words);
    // Its own guard switches the load off at 9.95 V, on the way down by 40 mV a minute; without a meter at one of the monoblocs nobody knows what the others are.
    for (all_metered, expected) in [(true, Ended::AtCutOff), (false, Ended::Broken)] {
        let mut body = started(&bank, false);
        let seen = |mut minute: Minute| {
            if !all_metered {
                minute.monobloc_v[0] = None;
            }
            minute
        };
        for number in 0..480 {
            let weak_v = 9.95 + 0.04 * f64::from(480 - number);
            let minute = seen(with_weak(flat(i64::from(number), -10.0, 3.0 * 11.0 + weak_v), (weak_v, weak_v)));
            assert_eq!(body.minute(&aboard, &minute), None);
        }
        let last = minute(480, -5.0, (43.4, 46.0, 48.0));
        assert_eq!(body.minute(&aboard, &seen(with_weak(last, (11.2, 9.95)))), None);
        assert_eq!(body.minute(&aboard, &seen(with_weak(flat(481, 0.0, 48.5), (12.0, 11.9)))), Some(expected));
        assert_eq!(body.progress.weakest, all_metered.then_some(3));
    }
}

#[test]
fn what_does_not_hold_breaks_the_test_and_says_so() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    let run = |broken: &dyn Fn(i64) -> Minute, anyway: bool| {
        let mut body = started(&bank, anyway);
        for number in 0..60 {
            assert_eq!(body.minute(&aboard, &flat(number, -10.0, 48.0)), None);
        }
        let ended = (60..70).find_map(|number| body.minute(&aboard, &broken(number)));
        (ended, body.text())
    };
    let (ended, words) = run(&|number| flat(number, -11.0, 48.0), false);
    assert!(ended == Some(Ended::Broken) && words.contains("did not hold"), "{words}");
    let (ended, words) = run(&|number| flat(number, -11.0, 48.0), true);
    assert_eq!(ended, None, "anyway: {words}");
    let (ended, words) = run(&|number| flat(number, 0.0, 50.0), false);
    assert!(ended == Some(Ended::Broken) && words.contains("switched off"), "{words}");
    for unseen_s in [Some(600.0), None] {
        let (ended, words) = run(&|number| Minute { unseen_s, ..flat(number, -10.0, 48.0) }, false);
        assert!(ended == Some(Ended::Broken) && words.contains("Nobody watched"), "{words}");
    }
    let (ended, _) = run(&|number| flat(number, -10.4, 48.0), false);
    assert_eq!(ended, None, "4 % is within 5 %");
}

#[test]
fn a_short_gap_is_filled_with_the_load_and_doubted() {
    let bank = bank();
    let aboard = Aboard { bank: &bank, branches: &[] };
    let mut body = started(&bank, false);
    for number in 0..60 {
        body.minute(&aboard, &flat(number, -10.0, 48.0));
    }
    body.minute(&aboard, &Minute { unseen_s: Some(60.0), ..flat(61, -10.0, 48.0) });
    assert!((body.progress.charge_ah - 62.0 * 10.0 / 60.0).abs() < 1e-9);
    assert!((body.progress.filled_ah - 10.0 / 60.0).abs() < 1e-9);
}

#[test]
fn a_test_stopped_by_hand_has_no_result() {
    let bank = bank();
    let mut body = started(&bank, false);
    body.minute(&Aboard { bank: &bank, branches: &[] }, &flat(0, -10.0, 48.0));
    body.stop();
    assert!(body.result.is_none() && body.words.last().is_some_and(|words| words.contains("by hand")));
    assert!(body.measured(&Aboard { bank: &bank, branches: &[] }).is_none());
}
