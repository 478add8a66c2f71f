use super::*;

/// 2026-06-01 and the hours that a demo may be started at; the sun is elsewhere in each.
const STARTS_S: [i64; 3] = [1_780_272_000, 1_784_000_000, 1_795_600_000];
const DAY_S: f64 = 86_400.0;

/// Everything that shows of a boat, as bits.
fn bits(boat: &mut Boat) -> Vec<u64> {
    let mut all = Vec::new();
    let mut values = Vec::new();
    for device in 0..boat.devices().len() {
        boat.read(device, &mut values);
        all.extend(values.iter().map(|value| value.to_bits()));
    }
    for bank in boat.banks() {
        all.extend([bank.soc, bank.capacity_ah, bank.current_a, bank.voltage_v, bank.temperature_c].map(f64::to_bits));
        all.extend(bank.monobloc_v.iter().map(|value| value.to_bits()));
    }
    all.extend(boat.branches().map(|branch| branch.current_a.to_bits()));
    all
}

#[test]
fn equal_seeds_live_equal_lives() {
    let lived = |seed| {
        let mut boat = Boat::new(seed, STARTS_S[0]);
        boat.advance(3.0 * DAY_S);
        bits(&mut boat)
    };
    assert_eq!(lived(11), lived(11));
    assert_ne!(lived(11), lived(12));
}

#[test]
fn a_saved_boat_goes_on_bit_for_bit() {
    let mut boat = Boat::new(3, STARTS_S[1]);
    boat.advance(1.6 * DAY_S + 3.7);
    let saved = serde_json::to_string(&boat).unwrap();
    let mut loaded: Boat = serde_json::from_str(&saved).unwrap();
    for second in 0..40_000 {
        boat.advance(1.0);
        loaded.advance(1.0);
        if second % 100 == 0 {
            assert_eq!(bits(&mut boat), bits(&mut loaded), "after {second} s");
        }
    }
}

/// What a voyage of three weeks and half a day showed.
#[derive(Debug, Default)]
struct Log {
    full_on_shore: u32,
    at_three_weeks: f64,
    current_then_a: f64,
    lowest_of_last_day: f64,
}

/// Sails three weeks and a little in steps of ten seconds, checking every one against physical ranges.
fn sail(seed: u64, start_utc_s: i64) -> Log {
    let mut boat = Boat::new(seed, start_utc_s);
    let mut log = Log { lowest_of_last_day: 1.0, ..Log::default() };
    let mut drawn = false;
    while boat.elapsed_s() < THREE_WEEKS_S + 0.5 * DAY_S {
        boat.advance(10.0);
        let [drive, house] = boat.banks();
        let ranges = [(&drive, 42.0..58.8, 130.0), (&house, 22.0..28.5, 280.0)];
        for (bank, volts, most_a) in ranges {
            let whole = volts.contains(&bank.voltage_v) && bank.current_a.abs() < most_a;
            let sound = (-0.01..1.001).contains(&bank.soc)
                && (5.0..50.0).contains(&bank.temperature_c)
                && bank.capacity_ah > 100.0;
            assert!(whole && sound, "seed {seed} at {} s: {bank:?}", boat.elapsed_s());
        }
        drawn |= drive.soc < 0.9;
        if drawn && boat.place() == Place::Marina && drive.soc > 0.985 {
            log.full_on_shore += 1;
            drawn = false;
        }
        let before_s = THREE_WEEKS_S - boat.elapsed_s();
        if (0.0..DAY_S).contains(&before_s) {
            log.lowest_of_last_day = log.lowest_of_last_day.min(drive.soc);
            log.at_three_weeks = drive.soc;
            log.current_then_a = drive.current_a;
        }
    }
    log
}

/// Sails these seeds from starts all over the year and the day; how many were discharging slowly at three weeks.
fn sail_all(seeds: std::ops::Range<u64>) -> usize {
    let sailed = seeds.filter(|seed| {
        let start_utc_s = STARTS_S[usize::try_from(seed % 3).unwrap()] + 5000 * i64::try_from(*seed).unwrap();
        let log = sail(*seed, start_utc_s);
        assert!(log.full_on_shore >= 2, "seed {seed}: {log:?}");
        assert!((0.50..0.85).contains(&log.at_three_weeks), "seed {seed}: {log:?}");
        assert!(log.lowest_of_last_day < log.at_three_weeks, "partly made good: seed {seed}: {log:?}");
        (-15.0..0.0).contains(&log.current_then_a)
    });
    sailed.count()
}

// Two halves, so that two cores share them.
#[test]
fn voyages_stay_within_physics_and_end_as_a_demo_wants_them() {
    let slowly = sail_all(0..25);
    assert!(slowly >= 23, "{slowly} of 25");
}

#[test]
fn more_voyages_stay_within_physics_and_end_as_a_demo_wants_them() {
    let slowly = sail_all(25..50);
    assert!(slowly >= 23, "{slowly} of 25");
}

#[test]
fn branches_add_up_to_the_current_of_their_bank() {
    let mut boat = Boat::new(2, STARTS_S[0]);
    for _ in 0..3000 {
        boat.advance(97.0);
        for bank in boat.banks() {
            let sum: f64 =
                boat.branches().filter(|branch| branch.bank == bank.name).map(|branch| branch.current_a).sum();
            assert!((sum - bank.current_a).abs() < 1e-9, "{sum} against {bank:?}");
        }
    }
}

#[test]
fn shunts_report_near_the_truth_in_the_order_of_their_channels() {
    let mut boat = Boat::new(8, STARTS_S[2]);
    boat.advance(2.0 * DAY_S);
    let mut values = Vec::new();
    for (index, device) in boat.devices().iter().enumerate().take(2) {
        boat.read(index, &mut values);
        let truth = boat.banks()[index].clone();
        assert_eq!((device.bank, values.len()), (truth.name, device.channels.len()));
        assert!(
            (values[0] - truth.voltage_v).abs() < 0.015
                && (values[1] - truth.current_a).abs() < 0.5
                && (values[2] - truth.temperature_c).abs() < 0.5
        );
        let blocks = values[3..].iter().zip(&truth.monobloc_v);
        assert!(blocks.into_iter().all(|(reported, true_v)| (reported - true_v).abs() < 0.015));
    }
}

#[test]
fn branch_shunts_report_the_branches_and_leave_the_rest_to_be_worked_out() {
    let mut boat = Boat::new(8, STARTS_S[2]);
    let (mut values, mut fastest_kn, mut warmest_c) = (Vec::new(), 0.0_f64, 0.0_f64);
    for _ in 0..2000 {
        boat.advance(300.0);
        for (index, device) in boat.devices().iter().enumerate().skip(2) {
            boat.read(index, &mut values);
            assert_eq!(values.len(), device.channels.len(), "{device:?}");
            for (channel, value) in device.channels.iter().zip(&values).filter(|(channel, _)| channel.ends_with("_a")) {
                let name = channel.trim_end_matches("_a").replace('_', "-");
                let branch = boat.branches().find(|branch| branch.bank == device.bank && branch.name == name);
                assert!((value - branch.expect("a branch").current_a).abs() < 0.5, "{channel}");
            }
            if device.reports_drive() {
                let [.., motor_c, rpm, speed_kn] = values[..] else { panic!("{values:?}") };
                assert!((5.0..95.0).contains(&motor_c) && (0.0..1500.0).contains(&rpm), "{values:?}");
                assert!(boat.place() == Place::Passage || speed_kn < 0.2, "{values:?}");
                fastest_kn = fastest_kn.max(speed_kn);
                warmest_c = warmest_c.max(motor_c);
            }
        }
    }
    assert!((4.0..12.0).contains(&fastest_kn) && warmest_c > 35.0, "{fastest_kn} kn, {warmest_c} °C");
}
