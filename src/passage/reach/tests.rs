use super::*;
use crate::battery::{Bank, Branch, BranchChannel, Chemistry, Rate, SensorError};
use crate::health::toys::powered;
use crate::quantity::{BandedSoc, BootNo, Moment, MonoMs};

fn bank() -> Bank {
    let mut bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
    bank.set_rates(&[Rate { hours: 1.0, capacity_ah: 93.0 }]).expect("a falling table");
    bank.reserve = 0.3;
    bank
}

fn motor() -> Branch {
    let channel = BranchChannel { device: "branches".to_owned(), channel: "motor_a".to_owned(), reversed: false };
    Branch {
        name: "motor".to_owned(),
        title: "Motor".to_owned(),
        bank: "drive".to_owned(),
        role: Role::Load,
        purpose: Purpose::Drive,
        channel: Some(channel),
        sensor: SensorError { gain: 0.01, offset_a: 0.05 },
    }
}

fn minute(motor_a: f64, speed_kn: f64) -> Minute {
    let at = Moment { boot: BootNo(1), mono: MonoMs(0) };
    Minute { branch_a: vec![Some(motor_a)], speed_kn: Some(speed_kn), ..powered(at, motor_a, 48.0) }
}

/// A displacement hull: the power goes with the cube of the speed. 20 A at 4 knots; head and following wind ±10 %.
fn sailed() -> Miles {
    let (bank, branches) = (bank(), [motor()]);
    let aboard = Aboard { bank: &bank, branches: &branches };
    let mut miles = Miles::default();
    for speed_kn in [3.2, 4.2, 5.2] {
        for run in 0..101 {
            let wind = 0.9 + 0.002 * f64::from(run);
            miles.minute(&aboard, &Rules::of(&bank), &minute(-20.0 * (speed_kn / 4.0_f64).powi(3) * wind, speed_kn));
        }
    }
    // What says nothing: drifting, sailing, a quarter of an hour that never was.
    miles.minute(&aboard, &Rules::of(&bank), &minute(-20.0, 0.3));
    miles.minute(&aboard, &Rules::of(&bank), &minute(-0.2, 5.2));
    miles.minute(&aboard, &Rules::of(&bank), &minute(-80.0, 6.6));
    miles
}

#[test]
fn a_mile_takes_the_square_of_the_speed() {
    let by_speed = sailed().by_speed();
    assert_eq!(by_speed.len(), 3, "{by_speed:?}");
    for (bin, (speed_kn, from_kn)) in by_speed.iter().zip([(3.2_f64, 3.0), (4.2, 4.0), (5.2, 5.0)]) {
        // 960 W at 4 knots are 240 Wh a mile.
        let expected = 240.0 * (speed_kn / 4.0).powi(2);
        assert!((bin.wh_per_nm / expected - 1.0).abs() < 0.012, "{} for {expected}", bin.wh_per_nm);
        assert!((bin.spread_wh_per_nm.low / expected - 0.905).abs() < 0.012);
        assert!((bin.spread_wh_per_nm.high / expected - 1.095).abs() < 0.013);
        assert!((bin.from_kn - from_kn).abs() < 1e-12 && (bin.speed_kn - speed_kn).abs() < 1e-9 && bin.minutes == 101);
    }
}

#[test]
fn slower_reaches_further_and_below_the_reserve_nothing_is_left() {
    let by_speed = sailed().by_speed();
    let held = |soc: f64| Held {
        soc: BandedSoc { soc, band: Band { low: soc - 0.03, high: soc + 0.03 } },
        capacity_ah: 120.0,
        temperature_c: Some(25.0),
        other_load_a: 0.0,
    };
    let left = miles_left(&bank(), &held(0.9), &by_speed);
    for pair in left.windows(2) {
        assert!(pair[1].likely_nm < pair[0].likely_nm, "{left:?}");
    }
    for miles in &left {
        assert!(miles.low_nm < miles.likely_nm && miles.likely_nm < miles.high_nm, "{miles:?}");
    }
    // 72 Ah above the reserve at 48 V and 154 Wh a mile are 22.5 miles: at this load the reserve comes before the cut-off.
    let by_hand = 72.0 * 48.0 / by_speed[0].wh_per_nm;
    assert!((left[0].likely_nm / by_hand - 1.0).abs() < 1e-6, "{} for {by_hand}", left[0].likely_nm);
    let loaded = miles_left(&bank(), &Held { other_load_a: 5.0, ..held(0.9) }, &by_speed);
    assert!(loaded[0].likely_nm < left[0].likely_nm);
    assert!(miles_left(&bank(), &held(0.25), &by_speed).iter().all(|miles| miles.likely_nm.abs() < 1e-12));
}

#[test]
fn the_state_comes_back_and_stays_small() {
    let miles = sailed();
    let text = serde_json::to_string(&miles).expect("plain values");
    assert!(text.len() < 5000, "{} bytes", text.len());
    assert_eq!(serde_json::from_str::<Miles>(&text).expect("own text"), miles);
}
