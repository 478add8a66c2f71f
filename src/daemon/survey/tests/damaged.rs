//! Gaps, nothing at all, and what cannot be read.

use super::*;

#[test]
fn a_bank_without_samples_has_nothing_to_tell() {
    let boat = Boat::new();
    drop(boat.open());
    let done = boat.survey();
    assert!(done.complete && done.looked_ms == 0, "{done:?}");
    let mut writer = boat.open();
    writer.series(&device_series(&boat.config.devices[0])).expect("fits");
    writer.close().expect("room");
    assert!(boat.survey().complete);
    assert_eq!(boat.record().map(|rows| rows.len()), [0; 4]);
}

#[test]
fn days_that_nobody_saw_make_no_passage_longer() {
    // The daemon falls silent under way and wakes up under way, days later.
    let boat = Boat::after(&[leg("one", 0, 0..10 * HOUR), leg("one", 0, 5 * DAY + 9 * HOUR..6 * DAY)]);
    let done = boat.survey();
    assert!(done.complete && done.notes.is_empty(), "{done:?}");
    let hours = boat.hours();
    assert_eq!(hours.len(), 2, "{hours:?}");
    assert!(hours[0].1.is_some_and(|end| (end - 10.0).abs() < 0.05), "{hours:?}");
    assert!((hours[1].0 - 129.0).abs() < 0.05, "{hours:?}");
    let passages = boat.reader().passages("drive").expect("reads");
    let out = passages[0].summary.as_ref().expect("worked out").charge_out_ah;
    assert!((out - 2.0 * 12.48).abs() < 0.1, "{out}");
}

#[test]
fn pieces_that_cannot_be_read_are_left_out_and_said() {
    let boat = Boat::after(&four_days());
    let file = rusqlite::Connection::open(boat.path()).expect("opens");
    let broken = file
        .execute(
            "UPDATE chunk SET data = zeroblob(40) WHERE id IN
                (SELECT id FROM chunk WHERE series = (SELECT id FROM series WHERE name = 'shunt') AND boot = 1
                 ORDER BY first_mono_ms LIMIT 1 OFFSET 5)",
            [],
        )
        .expect("there");
    assert_eq!(broken, 1);
    drop(file);
    let done = boat.survey();
    assert!(done.complete, "{done:?}");
    assert_eq!(done.notes.len(), 1, "{done:?}");
    assert!(done.notes[0].contains("cannot be read and are left out"), "{done:?}");
    let set_aside = boat.rows("SELECT source FROM set_aside");
    assert_eq!(set_aside.len(), 1);
    let passages = boat.reader().passages("drive").expect("reads");
    // Two hours of the first morning are gone. With the lunch after them they are too long a stop, which ends a passage.
    assert_eq!(passages.len(), 5);
    let covered: f64 = passages.iter().filter_map(|one| one.summary.as_ref()).map(|summary| summary.covered_s).sum();
    assert!((covered - 28.0 * 3600.0).abs() < 300.0, "{covered}");
}
