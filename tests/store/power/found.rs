//! What a store holds that was opened after the power was cut, held against the log of the boat.

use std::collections::BTreeMap;

use rusqlite::Connection;
use taffrail::store::codec;

use super::boat::{BANK, Log, Tally, shunt_values, track_values};
use super::*;

/// Opens the store as the daemon does, and reads everything that is in it.
///
/// # Panics
/// If anything is not as it must be: opening, SQLite's own check, chunks, summaries, records, or if what is there is
/// not the first part of what was given.
pub fn check(path: &Path, log: &Log, what: &str) -> Tally {
    let writer = Writer::open(path, Options::default()).unwrap_or_else(|error| panic!("{what}: {error}"));
    drop(writer);
    let file = Connection::open(path).expect("opens");
    let sound: String = file.query_row("PRAGMA integrity_check", [], |row| row.get(0)).expect("checks");
    assert_eq!(sound, "ok", "{what}");
    let orphans = file.prepare("PRAGMA foreign_key_check").and_then(|mut check| check.exists([])).expect("checks");
    assert!(!orphans, "{what}: a row without its boot or series");
    check_summaries(&file, what);

    let reader = Reader::open(path).expect("opens");
    let mut stored = BTreeMap::new();
    for series in reader.all_series().expect("reads") {
        let samples = reader.samples(series.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known");
        let samples: Vec<StoredSample> =
            samples.collect::<Result<_, _>>().unwrap_or_else(|error| panic!("{what}: {error}"));
        stored.insert(series.name, samples);
    }
    let of = |name: &str| stored.get(name).map_or(&[][..], Vec::as_slice);
    check_samples(of("shunt"), &log.shunt, |at| shunt_values(at).to_vec(), what);
    check_samples(of("house-reckoning"), &log.track, |at| track_values(at).to_vec(), what);
    let fixes = check_fixes(&file, log, of("house-reconciled"), what);
    let seen = check_checkpoint(&file, log, of("shunt").len(), what);
    Tally { shunt: of("shunt").len(), track: of("house-reckoning").len(), fixes, seen }
}

/// What was given is there from the first on, each once, in order, with its values.
fn check_samples(stored: &[StoredSample], given: &[Moment], values: impl Fn(Moment) -> Vec<f64>, what: &str) {
    assert!(stored.len() <= given.len(), "{what}: {} samples of {} that were given", stored.len(), given.len());
    for (stored, given) in stored.iter().zip(given) {
        assert_eq!(stored.sample.at, *given, "{what}: once and in order");
        let expected: Vec<Option<f64>> = values(*given).into_iter().map(Some).collect();
        assert_eq!(stored.sample.values, expected, "{what}: at {given:?}");
    }
}

/// Spans and summaries count the samples that the chunks hold, and minutes decode.
fn check_summaries(file: &Connection, what: &str) {
    let wrong = |sql: &str| -> i64 { file.query_row(sql, [], |row| row.get(0)).expect(sql) };
    let spans = "SELECT count(*) FROM span WHERE count <>
        (SELECT sum(count) FROM chunk WHERE chunk.series = span.series AND chunk.boot = span.boot)";
    assert_eq!(wrong(spans), 0, "{what}: spans");
    for table in ["hour_summary", "day_summary"] {
        let summaries = format!(
            "SELECT count(*) FROM span WHERE count <> (SELECT coalesce(sum(count), 0) FROM {table} AS summary
             WHERE summary.series = span.series AND summary.boot = span.boot AND channel = 0)"
        );
        assert_eq!(wrong(&summaries), 0, "{what}: {table}");
    }
    let mut minutes = file.prepare("SELECT data FROM minute_chunk").expect("a table");
    let mut rows = minutes.query([]).expect("reads");
    while let Some(row) = rows.next().expect("reads") {
        let data: Vec<u8> = row.get(0).expect("bytes");
        codec::decode(&data, |_| true).unwrap_or_else(|error| panic!("{what}: minutes: {error}"));
    }
}

/// Fixes are there from the first on; each has its anchor, unless the run that began there is reconciled, and then its
/// points are there.
fn check_fixes(file: &Connection, log: &Log, reconciled: &[StoredSample], what: &str) -> usize {
    let read = |sql: &str| -> Vec<(Moment, String)> {
        let mut select = file.prepare(sql).expect(sql);
        let rows = select.query_map([], |row| Ok((at(BootNo(row.get(0)?), row.get(1)?), row.get(2)?))).expect(sql);
        rows.collect::<Result<_, _>>().expect(sql)
    };
    let fixes = read("SELECT boot, mono_ms, kind FROM fix ORDER BY id");
    let anchors = read("SELECT boot, mono_ms, fix FROM anchor ORDER BY id");
    assert!(fixes.len() <= log.fixes.len(), "{what}: {} of {} fixes", fixes.len(), log.fixes.len());
    assert!(fixes.iter().zip(&log.fixes).all(|((at, _), given)| at == given), "{what}: fixes {fixes:?}");
    assert!(anchors.len() >= fixes.len().min(1), "{what}: a fix without its anchor");
    let done = fixes.len().checked_sub(anchors.len()).expect("each anchor has its fix");
    assert_eq!(anchors, fixes[done..], "{what}: anchors and fixes agree");
    for (at, _) in fixes[..done].iter().chain(&fixes[done..done + usize::from(done > 0)]) {
        assert!(reconciled.iter().any(|point| point.sample.at == *at), "{what}: no reconciled point at {at:?}");
    }
    let rising = reconciled.windows(2).all(|pair| pair[0].sample.at < pair[1].sample.at);
    assert!(rising, "{what}: reconciled points come once");
    fixes.len()
}

/// The checkpoint has seen no sample that is not there. Gives how many it has seen.
fn check_checkpoint(file: &Connection, log: &Log, samples: usize, what: &str) -> usize {
    let mut select = file.prepare("SELECT boot, mono_ms, state FROM checkpoint WHERE bank = ?1").expect("a table");
    let mut rows = select.query([BANK]).expect("reads");
    let Some(row) = rows.next().expect("reads") else { return 0 };
    let read = || -> rusqlite::Result<(Moment, String)> { Ok((at(BootNo(row.get(0)?), row.get(1)?), row.get(2)?)) };
    let (last, state) = read().expect("a checkpoint");
    let seen: usize = state.parse().expect("a number");
    assert!(seen <= samples, "{what}: the checkpoint has seen {seen} samples of {samples}");
    assert_eq!(log.shunt[seen - 1], last, "{what}: the checkpoint belongs to its last sample");
    seen
}
