//! Stores of every layout there was, written by the programs of their time, and brought to the present one.
//!
//! `tests/fixtures/store/README.md` says how they were made, and where the sums below come from.

use std::io::Read;

use rusqlite::types::Value;
use taffrail::store::{Error, codec, info};

use super::*;

const LAYOUTS: [i64; 3] = [1, 2, 3];
/// 2026-06-01T00:00:00Z, where the trace begins, and its length.
const JUNE: i64 = 1_780_272_000_000;
const TRACE_MS: i64 = 2 * 86_400_000;
/// Rows of the trace.
const ROWS: usize = 17_280;

/// A store of that layout, just as its program left it.
fn of_layout(number: i64) -> Scratch {
    let scratch = scratch();
    let name = format!("tests/fixtures/store/layout-{number}.sqlite.gz");
    let packed = std::fs::File::open(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).expect("a fixture");
    let mut bytes = Vec::new();
    flate2::read::GzDecoder::new(packed).read_to_end(&mut bytes).expect("packed");
    std::fs::write(&scratch.path, bytes).expect("writable");
    assert_eq!(number_of(&scratch.path, "PRAGMA user_version"), number);
    scratch
}

fn number_of(path: &Path, sql: &str) -> i64 {
    let file = rusqlite::Connection::open(path).expect("opens");
    file.query_row(sql, [], |row| row.get(0)).expect("a number")
}

/// Tables in which a store keeps what cannot be had again, and whether it is told of them by the layout.
fn tables(layout: i64) -> Vec<&'static str> {
    let mut all = vec![
        "boot",
        "series",
        "channel",
        "chunk",
        "tail",
        "minute_chunk",
        "span",
        "hour_summary",
        "day_summary",
        "fix",
        "event",
        "checkpoint",
    ];
    if layout >= 2 {
        all.push("anchor");
    }
    if layout >= 3 {
        all.push("written");
    }
    all
}

/// Every row of a table, each in the order of its columns.
fn rows(path: &Path, table: &str) -> Vec<Vec<Value>> {
    let file = rusqlite::Connection::open(path).expect("opens");
    let columns = file.prepare(&format!("SELECT * FROM {table}")).expect("a table").column_count();
    let order: Vec<String> = (1..=columns).map(|place| place.to_string()).collect();
    let mut select = file.prepare(&format!("SELECT * FROM {table} ORDER BY {}", order.join(", "))).expect("a table");
    let rows = select.query_map([], |row| (0..columns).map(|place| row.get(place)).collect()).expect("rows");
    rows.collect::<Result<_, _>>().expect("rows")
}

fn clock_fixes(path: &Path) -> Vec<(i64, i64)> {
    let column = |row: &Vec<Value>, place: usize| match row[place] {
        Value::Integer(number) => number,
        _ => panic!("{row:?}"),
    };
    rows(path, "clock_fix").iter().map(|row| (column(row, 3), column(row, 4))).collect()
}

#[test]
fn every_old_layout_opens_and_keeps_all_that_is_in_it() {
    for layout in LAYOUTS {
        let scratch = of_layout(layout);
        let before: Vec<_> = tables(layout).into_iter().map(|table| (table, rows(&scratch.path, table))).collect();
        let fixes = clock_fixes(&scratch.path);
        // What was synchronised was 2 up to the second layout, and is 3 from then on.
        let synchronised = if layout < 3 { 2 } else { 3 };
        assert!(fixes.iter().any(|(_, trust)| *trust == synchronised), "the trace was dated: {fixes:?}");
        for round in 1..=2 {
            drop(open(&scratch.path));
            assert_eq!(number_of(&scratch.path, "PRAGMA user_version"), 4, "round {round}");
            for (table, before) in &before {
                assert!(!before.is_empty(), "{table} of layout {layout}");
                assert_eq!(&rows(&scratch.path, table), before, "{table} of layout {layout}, round {round}");
            }
            let now: Vec<_> =
                fixes.iter().map(|&(utc, trust)| (utc, if trust == synchronised { 3 } else { trust })).collect();
            assert_eq!(clock_fixes(&scratch.path), now, "what was synchronised is so still, round {round}");
        }
    }
}

#[test]
fn samples_and_sums_of_every_old_layout_are_those_of_the_trace() {
    for layout in LAYOUTS {
        let scratch = of_layout(layout);
        let writer = open(&scratch.path);
        assert!(writer.load_checkpoint("drive").expect("reads").is_some());
        assert_eq!(writer.anchors("drive").expect("reads").len(), usize::from(layout >= 2));
        writer.close().expect("room");
        let reader = Reader::open(&scratch.path).expect("opens");
        let shunt = reader.all_series().expect("reads").into_iter().find(|s| s.name == "shunt").expect("a device").id;
        let samples = all_samples(&scratch.path, shunt);
        let (trace, live): (Vec<_>, Vec<_>) = samples.iter().partition(|stored| stored.sample.at.boot == BootNo(1));
        assert_eq!(trace.len(), ROWS);
        assert!(live.len() > 50, "and what was heard live: {}", live.len());
        for (place, sum) in [909_416.145, 13_622.12, 395_251.3].into_iter().enumerate() {
            let stored: f64 = trace.iter().map(|stored| stored.sample.values[place].expect("measured")).sum();
            assert!((stored - sum).abs() < 1e-6 * sum, "channel {place}: {stored} instead of {sum}");
        }
        let sums = reader.sums(shunt, UtcMs(JUNE), UtcMs(JUNE + TRACE_MS + 1)).expect("reads");
        let told = [
            (sums.charge_in_ah, 88.909_009_862),
            (sums.charge_out_ah, 51.069_565_417),
            (sums.energy_in_wh, 5_005.043_322_740),
            (sums.energy_out_wh, 2_402.884_190_712),
            (sums.covered_s, (ROWS - 1) as f64 * 10.0),
        ];
        for (stored, by_hand) in told {
            assert!((stored - by_hand).abs() < 1e-8 * by_hand, "layout {layout}: {stored} instead of {by_hand}");
        }
        let fixes = reader.fixes("drive", UtcMs(JUNE), UtcMs(JUNE + TRACE_MS), 10).expect("reads");
        let told: Vec<_> = fixes.iter().map(|fix| (fix.utc.map(|utc| utc.0 - JUNE), fix.fix.kind.as_str())).collect();
        assert_eq!(told, [(Some(121_070_000), "full"), (Some(116_930_000), "full")]);
    }
}

#[test]
fn an_old_layout_is_looked_at_and_copied_as_it_is() {
    for layout in LAYOUTS {
        let scratch = of_layout(layout);
        let found = info(&scratch.path, UtcMs(0)..UtcMs(1)).expect("reads");
        let since_life = (layout >= 3).then_some(0);
        assert_eq!((found.layout, found.set_aside, found.written_bytes), (layout, since_life, since_life));
        let copy = scratch.path.with_file_name("copy.sqlite");
        let made = taffrail::store::copy(&scratch.path, &copy, false, &mut |_, _, _| {}).expect("room");
        assert_eq!(made.soundness.broken, []);
        assert_eq!(number_of(&copy, "PRAGMA user_version"), layout, "an earlier program can still read it");
        for table in tables(layout) {
            assert_eq!(rows(&copy, table), rows(&scratch.path, table));
        }
    }
}

#[test]
fn every_piece_of_an_old_layout_unpacks() {
    for layout in LAYOUTS {
        let scratch = of_layout(layout);
        for table in ["chunk", "minute_chunk", "tail"] {
            let file = rusqlite::Connection::open(&scratch.path).expect("opens");
            let mut select = file.prepare(&format!("SELECT data FROM {table}")).expect("a table");
            let mut pieces = select.query([]).expect("rows");
            while let Some(row) = pieces.next().expect("a row") {
                let data: Vec<u8> = row.get(0).expect("bytes");
                let columns = codec::decode(&data, |_| true).expect("sound");
                let slices: Vec<&[f64]> = columns.channels.iter().map(Vec::as_slice).collect();
                let again = codec::decode(&codec::encode(&columns.time_ms, &slices), |_| true).expect("just packed");
                assert_eq!(format!("{again:?}"), format!("{columns:?}"), "and means the same packed the present way");
            }
        }
    }
}

#[test]
fn a_newer_file_is_left_byte_for_byte_as_it_was() {
    for layout in LAYOUTS {
        let scratch = of_layout(layout);
        rusqlite::Connection::open(&scratch.path)
            .and_then(|file| file.pragma_update(None, "user_version", 4_000))
            .expect("set");
        let before = std::fs::read(&scratch.path).expect("there");
        let error = Writer::open(&scratch.path, Options::default()).expect_err("must be refused");
        assert!(matches!(error, Error::TooNew { found: 4_000, .. }), "{error}");
        assert!(error.to_string().contains("install that version or a later one"), "{error}");
        assert_eq!(std::fs::read(&scratch.path).expect("there"), before);
        let entries = std::fs::read_dir(scratch.path.parent().expect("a folder")).expect("a folder");
        assert_eq!(entries.count(), 1, "and nothing lies beside it");
    }
}
