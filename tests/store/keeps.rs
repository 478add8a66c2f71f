//! What goes in comes out, whatever happened in between.

use proptest::prelude::*;
use taffrail::clock::Trust;
use taffrail::quantity::{Band, BandedSoc, BootNo, Sample, UtcMs};
use taffrail::store::{Appended, BootKind, Checkpoint, EventRecord, FixRecord, Reader};

use super::*;

fn bits(samples: &[Sample]) -> Vec<(i64, u32, Vec<Option<u64>>)> {
    samples
        .iter()
        .map(|s| {
            let values = s.values.iter().map(|v| v.map(|v| (v + 0.0).to_bits())).collect();
            (s.at.mono.0, s.at.boot.0, values)
        })
        .collect()
}

fn value() -> impl Strategy<Value = Option<f64>> {
    prop_oneof![
        10 => (-40_000_i32..40_000).prop_map(|n| Some(f64::from(n) / 1000.0)),
        1 => Just(None),
        1 => prop_oneof![Just(-0.0), Just(1e30), Just(-1e30), Just(5e-324), Just(0.1 + 0.2)].prop_map(Some),
    ]
}

/// What happens between samples.
#[derive(Debug, Clone)]
enum Step {
    Samples(Vec<(i64, [Option<f64>; 3])>),
    Commit,
    Restart,
    Reboot,
}

fn step() -> impl Strategy<Value = Step> {
    let interval = prop_oneof![20 => Just(1000_i64), 5 => 1_i64..3000, 1 => 3_000_000_i64..9_000_000];
    let row = (interval, [value(), value(), value()]);
    prop_oneof![
        4 => prop::collection::vec(row, 1..900).prop_map(Step::Samples),
        2 => Just(Step::Commit),
        1 => Just(Step::Restart),
        1 => Just(Step::Reboot),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, max_shrink_iters: 200, ..ProptestConfig::default() })]

    #[test]
    fn samples_come_out_bit_for_bit_across_commits_restarts_and_reboots(
        steps in prop::collection::vec(step(), 1..12)
    ) {
        let scratch = scratch();
        let mut writer = open(&scratch.path);
        let (mut boots, mut mono) = (1, 0);
        let mut boot = boot_at(&mut writer, "boot-1", START);
        let mut series = writer.series(&shunt(10_000)).expect("fits");
        let mut given: Vec<Sample> = Vec::new();
        for step in steps {
            match step {
                Step::Samples(rows) => for (interval, values) in rows {
                    mono += interval;
                    let sample = Sample { at: at(boot, mono), values: values.to_vec() };
                    prop_assert_eq!(writer.append(series, &sample).expect("fits"), Appended::Taken);
                    prop_assert_eq!(writer.append(series, &sample).expect("fits"), Appended::Refused);
                    given.push(sample);
                },
                Step::Commit => { writer.commit().expect("room"); }
                Step::Restart => {
                    writer.close().expect("room");
                    writer = open(&scratch.path);
                    boot = writer.begin_boot(&format!("boot-{boots}"), BootKind::Live).expect("known");
                    series = writer.series(&shunt(10_000)).expect("fits");
                }
                Step::Reboot => {
                    boots += 1;
                    mono = 0;
                    boot = boot_at(&mut writer, &format!("boot-{boots}"), START + i64::from(boots) * 1000 * HOUR);
                }
            }
        }
        writer.close().expect("room");
        let stored: Vec<Sample> =
            all_samples(&scratch.path, series).into_iter().map(|stored| stored.sample).collect();
        prop_assert_eq!(bits(&stored), bits(&given));
    }
}

#[test]
fn doubled_and_backward_samples_are_refused_also_after_a_restart() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for mono in [1000, 2000, 2000, 1500, 3000] {
        writer.append(series, &sample(boot, mono, &[50.0, 1.0, 20.0])).expect("fits");
    }
    let report = writer.commit().expect("room");
    assert_eq!((report.samples, report.refused), (3, 2));
    drop(writer);
    let mut writer = open(&scratch.path);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for (mono, expected) in [(3000, Appended::Refused), (3001, Appended::Taken)] {
        let appended = writer.append(series, &sample(boot, mono, &[50.0, 1.0, 20.0])).expect("fits");
        assert_eq!(appended, expected, "{mono}");
    }
}

#[test]
fn going_back_to_an_earlier_boot_still_refuses_what_it_has() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let live = boot_at(&mut writer, "live", START);
    let import = writer.begin_boot("trace", BootKind::Import).expect("noted");
    let series = writer.series(&shunt(10_000)).expect("fits");
    let values = [50.0, 1.0, 20.0];
    for (boot, mono, expected) in [
        (live, 1000, Appended::Taken),
        (import, 500, Appended::Taken),
        (live, 1000, Appended::Refused),
        (live, 2000, Appended::Taken),
        (import, 500, Appended::Refused),
    ] {
        assert_eq!(writer.append(series, &sample(boot, mono, &values)).expect("fits"), expected);
    }
    writer.commit().expect("room");
    assert_eq!(writer.append(series, &sample(live, 2000, &values)).expect("fits"), Appended::Refused);
    assert_eq!(count(&scratch.path, "chunk"), 3, "each change of boot closed a stretch");
}

#[test]
fn a_channel_gained_later_has_no_values_before_and_order_does_not_matter() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&spec("shunt", &["voltage_v", "current_a"], 10_000)).expect("fits");
    writer.append(series, &sample(boot, 1000, &[50.0, 1.0])).expect("fits");
    writer.commit().expect("room");
    let again = writer.series(&spec("shunt", &["current_a", "humidity", "voltage_v"], 10_000)).expect("fits");
    assert_eq!(again, series);
    writer.append(series, &sample(boot, 2000, &[2.0, 0.5, 51.0])).expect("fits");
    writer.close().expect("room");
    let values: Vec<_> = all_samples(&scratch.path, series).into_iter().map(|s| s.sample.values).collect();
    assert_eq!(values[0], [Some(50.0), Some(1.0), None]);
    assert_eq!(values[1], [Some(51.0), Some(2.0), Some(0.5)]);
}

#[test]
fn a_device_that_comes_to_report_power_itself_hides_the_derived_one() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&spec("shunt", &["voltage_v", "current_a"], 10_000)).expect("fits");
    writer.append(series, &sample(boot, 1000, &[50.0, 2.0])).expect("fits");
    let names = ["voltage_v", "current_a", "power_w"];
    writer.series(&spec("shunt", &names, 10_000)).expect("fits");
    writer.append(series, &sample(boot, 2000, &[50.0, 2.0, 99.5])).expect("fits");
    writer.append(series, &sample(boot, 3000, &[50.0, 2.0, 99.5])).expect("fits");
    writer.close().expect("room");
    let reader = Reader::open(&scratch.path).expect("opens");
    let info = reader.series(series).expect("known");
    assert_eq!((info.channels, info.has_power), (names.map(str::to_owned).to_vec(), false));
    let sums = reader.sums(series, UtcMs(START), UtcMs(START + HOUR)).expect("reads");
    assert!((sums.energy_in_wh - 99.5 / 3600.0).abs() < 1e-12);
    assert!((sums.charge_in_ah - 4.0 / 3600.0).abs() < 1e-12);
}

#[test]
fn what_is_no_measurement_is_stored_as_missing() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let odd = Sample { at: at(boot, 1000), values: vec![Some(f64::INFINITY), Some(f64::NAN), Some(1e300)] };
    writer.append(series, &odd).expect("fits");
    writer.close().expect("room");
    assert_eq!(all_samples(&scratch.path, series)[0].sample.values, [None, None, None]);
}

#[test]
fn a_late_clock_fix_moves_the_whole_boot_and_rewrites_nothing() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = writer.begin_boot("one", BootKind::Live).expect("noted");
    writer.clock_fix(boot, wall(0, 0, Trust::Untrusted), "first").expect("known");
    let series = writer.series(&shunt(10_000)).expect("fits");
    writer.append(series, &sample(boot, 5000, &[50.0, 1.0, 20.0])).expect("fits");
    writer.commit().expect("room");
    let reader = Reader::open(&scratch.path).expect("opens");
    assert_eq!(reader.reach(series).expect("reads"), Some((UtcMs(5000), UtcMs(5000))));
    assert_eq!(writer.last_utc().expect("reads"), None, "a clock that is not believed proves nothing");
    writer.clock_fix(boot, wall(HOUR, START + HOUR, Trust::Synchronised), "step").expect("known");
    writer.commit().expect("room");
    let moved = UtcMs(START + 5000);
    assert_eq!(reader.reach(series).expect("reads"), Some((moved, moved)));
    assert_eq!(writer.last_utc().expect("reads"), Some(moved));
    assert!(all_samples(&scratch.path, series)[0].trusted);
}

#[test]
fn fixes_events_and_the_checkpoint_come_back() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let after = BandedSoc { soc: 1.0, band: Band { low: 0.98, high: 1.0 } };
    for (mono, before) in [(1000, None), (2000, Some(after))] {
        let fix = FixRecord {
            bank: "house".to_owned(),
            at: at(boot, mono),
            kind: "full".to_owned(),
            before,
            after,
            text: format!("held for {mono} ms"),
        };
        writer.fix(fix).expect("known boot");
    }
    for (mono, text) in [(0, "quiet for 1 min"), (HOUR, "quiet for 61 min"), (2 * HOUR + 1, "quiet again")] {
        let event = EventRecord {
            at: at(boot, mono),
            bank: None,
            device: Some("shunt".to_owned()),
            kind: "silence".to_owned(),
            priority: "warning".to_owned(),
            text: text.to_owned(),
        };
        writer.event(event).expect("known boot");
        writer.commit().expect("room");
    }
    let checkpoint =
        Checkpoint { bank: "house".to_owned(), at: at(boot, 2000), version: 3, state: "{\"soc\":1.0}".to_owned() };
    writer.checkpoint(checkpoint.clone()).expect("known boot");
    writer.close().expect("room");

    let reader = Reader::open(&scratch.path).expect("opens");
    let fixes = reader.fixes("house", UtcMs(START), UtcMs(START + HOUR), 10).expect("reads");
    assert_eq!(fixes.len(), 2);
    assert_eq!((fixes[0].utc, fixes[0].fix.before), (Some(UtcMs(START + 2000)), Some(after)));
    assert_eq!(fixes[1].fix.before, None);
    assert!(reader.fixes("drive", UtcMs(START), UtcMs(START + HOUR), 10).expect("reads").is_empty());
    let events = reader.events(Some("house"), UtcMs(START), UtcMs(START + 3 * HOUR), 10).expect("reads");
    assert_eq!(events, reader.latest_events(10).expect("reads"));
    let told: Vec<_> = events.iter().map(|e| (e.event.text.as_str(), e.count)).collect();
    assert_eq!(told, [("quiet again", 1), ("quiet for 61 min", 2)]);
    assert_eq!(events[1].first_utc, Some(UtcMs(START)));
    assert_eq!(open(&scratch.path).load_checkpoint("house").expect("reads"), Some(checkpoint));
}

#[test]
fn unknown_boots_series_and_widths_are_refused() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    assert!(writer.append(series, &sample(BootNo(9), 0, &[1.0, 1.0, 1.0])).is_err());
    assert!(writer.append(series, &sample(boot, 0, &[1.0])).is_err());
    assert!(writer.append(SeriesId(77), &sample(boot, 0, &[1.0])).is_err());
    assert!(writer.series(&spec("twice", &["a_v", "a_v"], 1)).is_err());
    assert!(writer.series(&spec("none", &[], 1)).is_err());
    let other_kind = SeriesSpec { kind: SeriesKind::Reckoning, ..shunt(10_000) };
    let error = writer.series(&other_kind).expect_err("another kind");
    assert!(error.to_string().contains("device series"), "{error}");
}
