use super::*;
use crate::battery::{Bank, Chemistry};
use crate::quantity::{Band, BootNo, MonoMs};

fn at(ms: i64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs(ms) }
}

fn reading(voltage_v: f64, current_a: f64) -> Reading {
    Reading { t_s: 0.0, voltage_v, current_a, temperature_c: Some(20.0) }
}

fn bank() -> Bank {
    Bank::new("drive", Chemistry::LeadCarbon, 24, 100.0, 20.0).expect("possible")
}

fn builder(bank: &Bank) -> SummaryBuilder {
    SummaryBuilder::new(&Aboard { bank, branches: &[] }, 10_000)
}

/// Worked by hand: an hour at 60 A and 48 V, half an hour at 10 A and 50 V, a quarter of an hour charging with 40 A at 56 V.
#[test]
fn a_passage_worked_by_hand() {
    let bank = bank();
    let mut built = builder(&bank);
    built.follow_on(at(-1000), &reading(48.0, -60.0));
    let parts = [(0, 3600, 48.0, -60.0), (3600, 5400, 50.0, -10.0), (5400, 6300, 56.0, 40.0)];
    for (from_s, to_s, voltage_v, current_a) in parts {
        for second in from_s..to_s {
            built.reading(at(second * 1000), &reading(voltage_v, current_a));
        }
    }
    for minute in 0..105 {
        let soc = if minute < 60 { 0.9 - 0.6 * minute as f64 / 60.0 } else { 0.3 };
        built.charge(at(minute * 60_000), BandedSoc { soc, band: Band { low: soc - 0.01, high: soc + 0.01 } });
    }
    let made = built.finish(Some(6300.0), true);
    // A change between two seconds is half a second of each.
    assert!((made.charge_out_ah - 65.0).abs() < 0.02, "{}", made.charge_out_ah);
    assert!((made.charge_in_ah - 10.0).abs() < 0.02);
    assert!((made.energy_out_wh - (2880.0 + 250.0)).abs() < 1.0, "{}", made.energy_out_wh);
    assert!((made.energy_in_wh - 560.0).abs() < 1.0);
    assert!((made.covered_s - 6300.0).abs() < 1e-9);
    assert!((made.above_c5_s - 3600.0).abs() < 1e-9 && (made.above_c2_s - 3600.0).abs() < 1e-9);
    assert!(made.above_1c_s.abs() < 1e-9);
    // 65 Ah in an hour and a half.
    assert!((made.mean_load_a.expect("a load") - 65.0 / 1.5).abs() < 0.01);
    assert!((made.load_95_a.expect("a load") / 60.0 - 1.0).abs() < 0.01);
    assert_eq!(made.power_min.map(|min| (min.value, min.at)), Some((-2880.0, at(0))));
    assert_eq!(made.voltage_max.map(|max| (max.value, max.at)), Some((56.0, at(5_400_000))));
    assert_eq!(made.current_max.map(|max| max.at), Some(at(5_400_000)));
    assert_eq!(made.soc_lowest_at, Some(at(60 * 60_000)));
    assert_eq!((made.deep_excursions, made.reconciled), (1, true));
    assert_eq!(made.distance_nm, None);
}

#[test]
fn nothing_is_made_of_gaps_restarts_and_missing_values() {
    let bank = bank();
    let mut built = builder(&bank);
    built.reading(at(0), &reading(50.0, -10.0));
    built.reading(at(10_000), &reading(f64::NAN, -10.0));
    built.reading(at(20_001), &reading(50.0, -10.0));
    built.reading(Moment { boot: BootNo(2), mono: MonoMs(20_500) }, &reading(50.0, -500.0));
    let made = built.finish(None, true);
    assert!((made.covered_s - 10.0).abs() < 1e-9);
    assert!((made.charge_out_ah - 100.0 / 3600.0).abs() < 1e-9);
    assert!(made.energy_out_wh.abs() < 1e-12, "no two powers lie within the gap");
    assert!((made.current_min.expect("seen").value + 500.0).abs() < 1e-12, "what was read was there");
    assert!(made.above_1c_s.abs() < 1e-12, "but nobody knows for how long");
    assert_eq!((made.soc_end, made.reconciled), (None, false));
    let empty = builder(&bank).finish(None, false);
    assert_eq!(empty.mean_load_a, None);
    let text = serde_json::to_string(&empty).expect("plain");
    assert_eq!(serde_json::from_str::<Summary>(&text).expect("own text"), empty, "nothing in it but finite values");
}

#[test]
fn two_parts_add_up_to_the_whole_where_the_second_follows_on() {
    let bank = bank();
    let current = |second: i64| f64::from(i32::try_from(second * 37 % 101).expect("small")) - 70.0;
    let add = |built: &mut SummaryBuilder, seconds: std::ops::Range<i64>| {
        for second in seconds {
            built.reading(at(second * 1000), &reading(50.0, current(second)));
        }
    };
    let (mut whole, mut first, mut second) = (builder(&bank), builder(&bank), builder(&bank));
    add(&mut whole, 0..2000);
    add(&mut first, 0..777);
    second.follow_on(at(776_000), &reading(50.0, current(776)));
    add(&mut second, 777..2000);
    let [whole, first, second] = [whole, first, second].map(|built| built.finish(None, false));
    for of in [|made: &Summary| made.charge_out_ah, |made: &Summary| made.energy_in_wh, |made: &Summary| made.covered_s]
    {
        assert!((of(&first) + of(&second) - of(&whole)).abs() < 1e-9);
    }
}

#[test]
fn miles_are_speed_over_time() {
    let bank = bank();
    let mut built = builder(&bank);
    for second in 0..=7200 {
        built.speed(at(second * 1000), 5.5, 5000);
    }
    assert!((built.finish(None, false).distance_nm.expect("a speed") - 11.0).abs() < 1e-9);
}
