//! What is safe between two commits: the slate beside the store, and what readers see of it.

use taffrail::clock::Clock;
use taffrail::quantity::{Band, BandedSoc};
use taffrail::store::slate::{self, SLOT_BYTES};
use taffrail::store::{Error, FixRecord, Pace, spawn};

use super::*;

/// One of 1009 values that no rule packs, the same each time.
fn noise(seed: i64) -> f64 {
    let mixed = seed.cast_unsigned().wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    let mixed = (mixed ^ (mixed >> 29)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    ((mixed >> 33) % 1009) as f64 / 1000.0
}

/// Every second of `0..end` is there, once, with its values.
fn check_seconds(path: &Path, series: SeriesId, end: i64) {
    let stored = all_samples(path, series);
    let times: Vec<i64> = stored.iter().map(|stored| stored.sample.at.mono.0 / 1000).collect();
    assert_eq!(times, (0..end).collect::<Vec<_>>());
    for stored in stored {
        assert_eq!(stored.sample.values, values(stored.sample.at.mono.0 / 1000).map(Some).to_vec());
    }
}

#[test]
fn what_was_secured_is_there_after_a_cut_without_any_commit() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    let mut second = 0;
    for _ in 0..6 {
        append(&mut writer, series, boot, second..second + 9);
        second += 9;
        assert_eq!(writer.secure().expect("room").samples, 9);
        assert_eq!(writer.waiting_samples(), 0);
    }
    append(&mut writer, series, boot, second..second + 5);
    assert_eq!(writer.waiting_samples(), 5);
    assert_eq!(count(&scratch.path, "tail"), 0, "nothing of it is committed");
    drop(writer);

    drop(open(&scratch.path));
    check_seconds(&scratch.path, series, second);
    assert_eq!(count(&scratch.path, "tail"), 1, "opening commits what the slate held");
    // The note is of an earlier commit now.
    drop(open(&scratch.path));
    check_seconds(&scratch.path, series, second);
}

#[test]
fn a_torn_note_costs_what_came_since_the_note_before_it() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..9);
    writer.secure().expect("room");
    append(&mut writer, series, boot, 9..18);
    writer.secure().expect("room");
    drop(writer);
    let path = slate::path_of(&scratch.path);
    let mut file = std::fs::read(&path).expect("there");
    let latest = slate::latest_note(&file).expect("two notes");
    let place = if latest.sequence.is_multiple_of(2) { 0 } else { SLOT_BYTES };
    file[place + 60] ^= 0x10;
    std::fs::write(&path, file).expect("written");

    drop(open(&scratch.path));
    check_seconds(&scratch.path, series, 9);
}

#[test]
fn a_new_boot_folds_what_the_slate_held_of_the_one_before() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..40);
    writer.commit().expect("room");
    append(&mut writer, series, boot, 40..60);
    writer.secure().expect("room");
    drop(writer);

    let mut writer = open(&scratch.path);
    boot_at(&mut writer, "two", START + HOUR);
    writer.close().expect("room");
    assert_eq!((count(&scratch.path, "tail"), count(&scratch.path, "chunk")), (0, 1));
    check_seconds(&scratch.path, series, 60);
}

#[test]
fn records_closed_hours_and_long_notes_ask_for_a_commit() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..9);
    writer.secure().expect("room");
    assert_eq!(count(&scratch.path, "tail"), 0, "samples alone do not");
    let soc = BandedSoc { soc: 1.0, band: Band { low: 0.99, high: 1.0 } };
    let fix = FixRecord {
        bank: "house".to_owned(),
        at: at(boot, 8000),
        kind: "full".to_owned(),
        before: None,
        after: soc,
        text: "full fix".to_owned(),
    };
    writer.fix(fix).expect("known boot");
    writer.secure().expect("room");
    assert_eq!((count(&scratch.path, "tail"), count(&scratch.path, "fix")), (1, 1));

    append(&mut writer, series, boot, 9..3605);
    let report = writer.secure().expect("room");
    assert_eq!((report.chunks, count(&scratch.path, "chunk")), (1, 1), "the hour is closed");

    // A fast device fills a note within a minute.
    let noisy: Vec<Channel> = (0..20).filter_map(|n| Channel::try_new(&format!("fast_{n}")).ok()).collect();
    let fast = SeriesSpec { channels: noisy, ..spec("fast", &["voltage_v"], 1000) };
    let fast = writer.series(&fast).expect("fits");
    let mut rounds = 0;
    while count(&scratch.path, "(SELECT 1 FROM tail WHERE series = 2)") == 0 {
        for tick in 0..85 {
            let time_ms = 3_610_000 + (rounds * 85 + tick) * 100;
            let row: Vec<f64> = (0..20).map(|n| noise(time_ms * 20 + n)).collect();
            writer.append(fast, &sample(boot, time_ms, &row)).expect("fits");
        }
        writer.secure().expect("room");
        rounds += 1;
        assert!(rounds < 20, "a note does not grow for ever");
    }
    assert!(rounds > 1, "the first one is short enough for the slate");
}

#[test]
fn a_reader_with_a_feed_sees_what_is_only_on_the_slate() {
    let scratch = scratch();
    let (writer, boot, series) = begun(&scratch.path);
    let hour = std::time::Duration::from_secs(3600);
    let pace = Pace { secure_after: std::time::Duration::from_millis(3), commit_every: hour };
    let (handle, thread) = spawn(writer, Clock::system(), pace).expect("a thread");
    let reader = Reader::open_fed(&scratch.path, handle.feed()).expect("opens");
    for second in 0..30 {
        handle.append(series, sample(boot, second * 1000, &values(second))).expect("runs");
    }
    let seen = || reader.samples(series, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series").count();
    while seen() < 30 {
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert_eq!(all_samples(&scratch.path, series).len(), 0, "nothing is committed");
    handle.close().expect("runs");
    thread.join().expect("no panic").expect("room");
    check_seconds(&scratch.path, series, 30);
}

#[test]
fn a_reader_with_a_feed_sees_what_waits_and_loses_or_doubles_nothing_over_commits() {
    let scratch = scratch();
    let (writer, boot, series) = begun(&scratch.path);
    let often = std::time::Duration::from_millis(3);
    let pace = Pace { secure_after: often, commit_every: often * 4 };
    let (handle, thread) = spawn(writer, Clock::system(), pace).expect("a thread");
    let reader = Reader::open_fed(&scratch.path, handle.feed()).expect("opens");
    let mut before = 0;
    for second in 0..4000 {
        handle.append(series, sample(boot, second * 1000, &values(second))).expect("runs");
        if second % 20 == 19 {
            let stored = reader.samples(series, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
            let times: Vec<i64> = stored.map(|stored| stored.expect("sound").sample.at.mono.0 / 1000).collect();
            assert_eq!(times, (0..times.len() as i64).collect::<Vec<_>>(), "once and in order");
            assert!(times.len() >= before, "what was seen stays in sight");
            before = times.len();
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
    }
    handle.close().expect("runs");
    thread.join().expect("no panic").expect("room");
    check_seconds(&scratch.path, series, 4000);
    assert!(matches!(handle.flush_blocking(), Err(Error::Stopped)));
}
