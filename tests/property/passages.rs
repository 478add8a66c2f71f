//! Whatever a boat does, passages follow one another, lie within what was seen, and come out the same after a restart.

use proptest::prelude::*;
use taffrail::battery::{Bank, Branch, BranchChannel, Chemistry, Purpose, Role, SensorError};
use taffrail::health::{Aboard, FixMark};
use taffrail::passage::{Counts, Finder, Found, LedgerBuilder, Rules, Stretch};
use taffrail::quantity::{Band, BandedSoc, BootNo, MINUTE_MS, Minute, Moment, MonoMs};
use taffrail::reckoning::FixKind;

use super::cases;
use crate::minutes::steady;

/// So many minutes of the same, after a while that nobody saw.
#[derive(Debug, Clone)]
struct Leg {
    minutes: u32,
    drive_a: Option<f64>,
    shore_a: f64,
    house_a: f64,
    speed_kn: Option<f64>,
    before: Before,
    full: bool,
}

#[derive(Debug, Clone, Copy)]
enum Before {
    Nothing,
    Gap(u32),
    Boot(Option<u32>),
}

fn legs() -> impl Strategy<Value = Vec<Leg>> {
    let before = prop_oneof![
        6 => Just(Before::Nothing),
        1 => (1..2000_u32).prop_map(Before::Gap),
        1 => proptest::option::of(1..3000_u32).prop_map(Before::Boot),
    ];
    let amperes = prop_oneof![2 => Just(0.0), 1 => -2.0..0.0_f64, 3 => -150.0..-2.0_f64, 1 => 0.0..30.0_f64];
    let drive = prop_oneof![9 => amperes.prop_map(Some), 1 => Just(None)];
    let shore = prop_oneof![2 => Just(0.0), 1 => 0.0..40.0_f64];
    let speed = proptest::option::weighted(0.3, 0.0..8.0_f64);
    let leg = (1..300_u32, drive, shore, 0.0..20.0_f64, speed, before, proptest::bool::weighted(0.1));
    let leg = leg.prop_map(|(minutes, drive_a, shore_a, house_a, speed_kn, before, full)| Leg {
        minutes,
        drive_a,
        shore_a,
        house_a,
        speed_kn,
        before,
        full,
    });
    proptest::collection::vec(leg, 1..30)
}

fn bank() -> Bank {
    Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible")
}

fn branch(name: &str, role: Role, purpose: Purpose) -> Branch {
    let channel = BranchChannel { device: "branches".to_owned(), channel: format!("{name}_a"), reversed: false };
    Branch {
        name: name.to_owned(),
        title: name.to_owned(),
        bank: "drive".to_owned(),
        role,
        purpose,
        channel: Some(channel),
        sensor: SensorError { gain: 0.01, offset_a: 0.05 },
    }
}

/// The minutes of the legs, each with whether a full fix comes after it.
fn minutes(legs: &[Leg]) -> Vec<(Minute, bool)> {
    let mut lived = Vec::new();
    let mut at = Moment { boot: BootNo(1), mono: MonoMs(0) };
    let mut unseen_s = None;
    for leg in legs {
        match leg.before {
            Before::Nothing => {}
            Before::Gap(minutes) => {
                at.mono = at.mono + i64::from(minutes) * MINUTE_MS;
                unseen_s = unseen_s.map(|seconds: f64| seconds + 60.0 * f64::from(minutes));
            }
            Before::Boot(minutes) => {
                at = Moment { boot: BootNo(at.boot.0 + 1), mono: MonoMs(MINUTE_MS) };
                unseen_s = minutes.map(|minutes| 60.0 * f64::from(minutes));
            }
        }
        for number in 1..=leg.minutes {
            let current_a = leg.drive_a.unwrap_or(0.0) + leg.shore_a - leg.house_a;
            let mut minute = steady(at, current_a);
            minute.unseen_s = unseen_s;
            minute.branch_a = vec![leg.drive_a, Some(leg.shore_a)];
            minute.speed_kn = leg.speed_kn;
            at = minute.end();
            unseen_s = Some(0.0);
            lived.push((minute, leg.full && number == leg.minutes));
        }
    }
    lived
}

fn follow(finder: &mut Finder, aboard: &Aboard<'_>, lived: &[(Minute, bool)], found: &mut Vec<Found>) {
    for (minute, full) in lived {
        finder.minute(aboard, &Rules::of(aboard.bank), minute, found);
        if *full {
            let after = BandedSoc { soc: 1.0, band: Band { low: 0.98, high: 1.0 } };
            finder.fix(&FixMark { at: minute.end(), kind: FixKind::Full, before: None, after });
        }
    }
}

/// Seconds from a passage's first minute to its last, by what was lived and what is known of the time between.
fn lived_s(lived: &[(Minute, bool)], found: &Found) -> f64 {
    let Some(end) = found.end else { return 0.0 };
    let first = lived.iter().position(|(minute, _)| minute.at == found.begin).expect("it begins with a minute");
    let last = lived.iter().position(|(minute, _)| minute.end() == end).expect("it ends with a minute");
    let between = lived[first + 1..=last].iter().map(|(minute, _)| 60.0 + minute.unseen_s.unwrap_or(0.0));
    60.0 + between.sum::<f64>()
}

proptest! {
    #![proptest_config(cases(300))]

    #[test]
    fn passages_follow_one_another_and_lie_within_what_was_seen(legs in legs(), with_branches in any::<bool>()) {
        let bank = bank();
        let branches = [branch("motor", Role::Load, Purpose::Drive), branch("shore", Role::Source, Purpose::Shore)];
        let aboard = Aboard { bank: &bank, branches: if with_branches { &branches } else { &[] } };
        let lived = minutes(&legs);
        let mut found = Vec::new();
        follow(&mut Finder::default(), &aboard, &lived, &mut found);
        let mut before_end = Moment { boot: BootNo(0), mono: MonoMs(0) };
        let mut begun = None;
        let mut sum_s = 0.0;
        for passage in &found {
            match passage.end {
                None => {
                    prop_assert_eq!(begun, None, "two at once: {:?}", &found);
                    prop_assert!(passage.begin >= before_end, "they overlap: {:?}", &found);
                    begun = Some(passage.begin);
                }
                Some(end) => {
                    prop_assert_eq!(begun.take(), Some(passage.begin), "ended before it was told: {:?}", &found);
                    prop_assert!(passage.begin < end);
                    before_end = end;
                    sum_s += lived_s(&lived, passage);
                    // No stop, and no time that nobody saw, is longer than what ends one.
                    let inside = lived.iter().filter(|(minute, _)| minute.at > passage.begin && minute.at < end);
                    for (minute, _) in inside {
                        prop_assert!(minute.unseen_s.is_none_or(|s| s < Rules::of(&bank).settled_s), "{:?}", minute);
                    }
                }
            }
        }
        let whole_s: f64 = lived.iter().map(|(minute, _)| 60.0 + minute.unseen_s.unwrap_or(0.0)).sum();
        prop_assert!(sum_s <= whole_s);
    }

    #[test]
    fn two_looks_with_a_saved_state_between_find_what_one_finds(legs in legs(), cut in 0.0..1.0_f64) {
        let bank = bank();
        let branches = [branch("motor", Role::Load, Purpose::Drive), branch("shore", Role::Source, Purpose::Shore)];
        let aboard = Aboard { bank: &bank, branches: &branches };
        let lived = minutes(&legs);
        let (mut whole, mut parts) = (Vec::new(), Vec::new());
        follow(&mut Finder::default(), &aboard, &lived, &mut whole);
        let place = lived.iter().enumerate().filter(|(number, _)| f64::from(u32::try_from(*number).expect("few")) < cut * 9000.0);
        let (first, second) = lived.split_at(place.count());
        let mut finder = Finder::default();
        follow(&mut finder, &aboard, first, &mut parts);
        let text = serde_json::to_string(&finder).expect("plain values");
        prop_assert!(text.len() < 400, "{}", text);
        let mut again: Finder = serde_json::from_str(&text).expect("own text");
        follow(&mut again, &aboard, second, &mut parts);
        prop_assert_eq!(whole, parts);
    }

    #[test]
    fn a_ledger_in_one_look_is_the_same_as_in_many_and_always_closes(
        hours in proptest::collection::vec((-60.0..60.0_f64, -40.0..0.0_f64, 0.0..30.0_f64, 0.0..3600.0_f64), 1..40),
    ) {
        let bank = bank();
        let branches = [branch("motor", Role::Load, Purpose::Drive), branch("shore", Role::Source, Purpose::Shore)];
        let aboard = Aboard { bank: &bank, branches: &branches };
        let counts = |a: f64, covered_s: f64| Counts {
            covered_s,
            charge_in_ah: a.max(0.0) * covered_s / 3600.0,
            charge_out_ah: (-a).max(0.0) * covered_s / 3600.0,
        };
        let mut ledger = LedgerBuilder::new(&aboard);
        for &(bank_a, motor_a, shore_a, covered_s) in &hours {
            ledger.add(&Stretch {
                bank: counts(bank_a, covered_s),
                energy_in_wh: 0.0,
                energy_out_wh: 0.0,
                voltage_v: Some(50.0),
                branches: &[counts(motor_a, covered_s), counts(shore_a, covered_s)],
            });
        }
        let made = ledger.finish(None, None);
        let left_ah = made.bank.net_ah() - made.sources.net_ah() - made.loads.net_ah();
        let unaccounted = made.unaccounted_ah.expect("all were read");
        prop_assert!((left_ah - unaccounted.value).abs() < 1e-6, "{left_ah} {unaccounted:?}");
        prop_assert!(unaccounted.std_dev >= made.bank_std_dev_ah && unaccounted.std_dev.is_finite());
    }
}
