//! Pieces that cannot be read: the rest stays readable, they are named and set aside, and nothing is deleted.

use rusqlite::{Connection, params};
use taffrail::store::{Found, History, HistoryQuery, Outcome, Source, Unreadable};

use super::*;

/// Three closed hours and an open tail of 500 s.
const SAMPLES: i64 = 3 * 3600 + 500;

fn value(second: i64) -> [f64; 3] {
    [51.0, (second % 7) as f64 - 3.0, 20.0]
}

/// Gives the writer too, which still has the open tail in memory.
fn aboard(scratch: &Scratch) -> (Writer, BootNo, SeriesId) {
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..SAMPLES {
        writer.append(series, &sample(boot, second * 1000, &value(second))).expect("fits");
        if second % 100 == 99 {
            writer.commit().expect("room");
        }
    }
    (writer, boot, series)
}

fn store(scratch: &Scratch) -> Connection {
    Connection::open(&scratch.path).expect("opens")
}

/// Flips one bit in the middle of a packed piece.
fn flip(scratch: &Scratch, table: &str, condition: &str) {
    let store = store(scratch);
    let read = format!("SELECT data FROM {table} WHERE {condition}");
    let mut data: Vec<u8> = store.query_row(&read, [], |row| row.get(0)).expect("one row");
    let middle = data.len() / 2;
    data[middle] ^= 4;
    let changed = store.execute(&format!("UPDATE {table} SET data = ?1 WHERE {condition}"), [data]).expect("set");
    assert_eq!(changed, 1);
}

const SECOND_HOUR: &str = "first_mono_ms = 3600000";
const ITS_MINUTES: &str = "id = (SELECT id FROM chunk WHERE first_mono_ms = 3600000)";
/// Rows of the tail begin at each full 100 s.
const SECOND_TAIL: &str = "first_mono_ms = 10900000";

fn history(reader: &Reader, series: SeriesId, points: usize) -> History {
    let (from, to) = (UtcMs(START), UtcMs(START + SAMPLES * 1000));
    reader.history(&HistoryQuery { series, channels: Vec::new(), from, to, points }).expect("goes on")
}

fn seconds(reader: &Reader, series: SeriesId) -> Vec<i64> {
    let samples = reader.samples(series, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known series");
    samples.map(|sample| sample.expect("goes on").sample.at.mono.0 / 1000).collect()
}

fn without(hole: std::ops::Range<i64>) -> Vec<i64> {
    (0..SAMPLES).filter(|second| !hole.contains(second)).collect()
}

fn set_aside(scratch: &Scratch) -> Vec<(String, i64, Vec<u8>)> {
    let store = store(scratch);
    let mut select = store.prepare("SELECT source, first_mono_ms, data FROM set_aside ORDER BY id").expect("a table");
    let rows = select.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).expect("rows");
    rows.collect::<Result<_, _>>().expect("rows")
}

fn data(scratch: &Scratch, table: &str, condition: &str) -> Vec<u8> {
    let read = format!("SELECT data FROM {table} WHERE {condition}");
    store(scratch).query_row(&read, [], |row| row.get(0)).expect("one row")
}

/// What the reader left out; it is told once.
fn left_out(reader: &Reader) -> Unreadable {
    let found = reader.take_unreadable();
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(reader.take_unreadable(), []);
    found[0].clone()
}

#[test]
fn readers_go_on_over_a_broken_chunk_and_name_it() {
    let scratch = scratch();
    let (_writer, boot, series) = aboard(&scratch);
    let reader = Reader::open(&scratch.path).expect("opens");
    let whole = history(&reader, series, 20_000);
    let (from, to) = (UtcMs(START), UtcMs(START + SAMPLES * 1000));
    let sums = reader.sums(series, from, to).expect("sound");
    assert_eq!(reader.take_unreadable(), [], "nothing is left out of a sound store");
    flip(&scratch, "chunk", SECOND_HOUR);

    assert_eq!(seconds(&reader, series), without(3600..7200));
    let found = left_out(&reader);
    assert_eq!((found.source, found.series, found.boot), (Source::Chunk, series, boot));
    assert_eq!((found.first_ms, found.last_ms), (HOUR, 2 * HOUR - 1000));
    assert_eq!(found.utc, Some((UtcMs(START + HOUR), UtcMs(START + 2 * HOUR - 1000))));
    assert!(found.cause.contains("checksum") && !found.aside, "{found:?}");

    let fine = history(&reader, series, 20_000);
    assert_eq!(left_out(&reader), found);
    let inside = |at: i64| (START + HOUR..START + 2 * HOUR).contains(&at);
    let (row, _) = fine.time_ms.iter().enumerate().find(|(_, at)| inside(**at)).expect("a row that is the gap");
    assert_eq!(fine.time_ms.iter().filter(|at| inside(**at)).count(), 1);
    assert!(fine.channels.iter().all(|channel| channel.mean[row].is_none()));
    assert_eq!(fine.time_ms.len(), whole.time_ms.len() - 3600 + 1);

    // Minutes, hours and their sums do not need it.
    history(&reader, series, 60);
    history(&reader, series, 2);
    assert_eq!(reader.sums(series, from, to).expect("goes on"), sums);
    assert_eq!(reader.take_unreadable(), []);
    // A part of the hour does.
    let part = reader.sums(series, UtcMs(START + HOUR + 60_000), to).expect("goes on");
    assert!(part.covered_s < sums.covered_s);
    assert_eq!(left_out(&reader), found);
}

#[test]
fn samples_stand_in_for_minutes_that_are_broken() {
    let scratch = scratch();
    let (_writer, _, series) = aboard(&scratch);
    let reader = Reader::open(&scratch.path).expect("opens");
    let whole = history(&reader, series, 60);
    flip(&scratch, "minute_chunk", ITS_MINUTES);
    let again = history(&reader, series, 60);
    assert_eq!(again.time_ms, whole.time_ms);
    for (one, other) in whole.channels.iter().zip(&again.channels).filter(|(one, _)| one.name != "power_w") {
        assert_eq!((&one.min, &one.max), (&other.min, &other.max), "{}", one.name);
    }
    assert_eq!(left_out(&reader).source, Source::MinuteChunk);
}

#[test]
fn a_broken_chunk_is_set_aside_byte_for_byte_and_its_minutes_are_still_shown() {
    let scratch = scratch();
    let (mut writer, _, series) = aboard(&scratch);
    let reader = Reader::open(&scratch.path).expect("opens");
    let (minutes, reach) = (history(&reader, series, 60), reader.reach(series).expect("sound"));
    flip(&scratch, "chunk", SECOND_HOUR);
    let broken = data(&scratch, "chunk", SECOND_HOUR);
    seconds(&reader, series);
    let found = left_out(&reader);
    writer.set_aside(&found).expect("room");
    let told = writer.take_found();
    let [Found::Piece(piece)] = told.as_slice() else { panic!("{told:?}") };
    assert_eq!(piece.outcome, Outcome::SetAside { count: 3600 });
    let text = told[0].text();
    assert!(text.contains("shunt: 3600 samples from 2026-12-01 01:00:00 to 2026-12-01 01:59:59 UTC"), "{text}");
    assert_eq!(set_aside(&scratch), [("chunk".to_owned(), HOUR, broken)]);

    // The hole is the same as before, and so is all the rest.
    assert_eq!(seconds(&reader, series), without(3600..7200));
    let after = left_out(&reader);
    assert!(after.aside && after.is_same_row(&found) && after.cause == found.cause, "{after:?}");
    assert_eq!(history(&reader, series, 60), minutes);
    assert_eq!(reader.reach(series).expect("sound"), reach);
    // Asked twice, it is done once.
    writer.set_aside(&found).expect("room");
    assert_eq!(set_aside(&scratch).len(), 1);
    assert_eq!(writer.take_found(), []);
    let verified = taffrail::store::verify(&scratch.path, &mut |_| {}).expect("readable");
    assert_eq!(verified.findings, []);
    assert_eq!((verified.set_aside.len(), verified.samples), (1, 7200 + 500));
    assert!(verified.not_provable > 0);
}

#[test]
fn a_row_that_can_be_read_after_all_stays_where_it_is() {
    let scratch = scratch();
    let (mut writer, _, series) = aboard(&scratch);
    flip(&scratch, "chunk", SECOND_HOUR);
    let reader = Reader::open(&scratch.path).expect("opens");
    seconds(&reader, series);
    let found = left_out(&reader);
    flip(&scratch, "chunk", SECOND_HOUR);
    writer.set_aside(&found).expect("room");
    writer.set_aside(&Unreadable { first_ms: 77, ..found }).expect("room");
    assert_eq!((set_aside(&scratch), writer.take_found()), (vec![], vec![]));
    assert_eq!(seconds(&reader, series), without(0..0));
}

#[test]
fn broken_minutes_are_set_aside_and_made_anew() {
    let scratch = scratch();
    let (mut writer, _, series) = aboard(&scratch);
    let sound = data(&scratch, "minute_chunk", ITS_MINUTES);
    flip(&scratch, "minute_chunk", ITS_MINUTES);
    let broken = data(&scratch, "minute_chunk", ITS_MINUTES);
    let reader = Reader::open(&scratch.path).expect("opens");
    history(&reader, series, 60);
    writer.set_aside(&left_out(&reader)).expect("room");
    assert_eq!(set_aside(&scratch), [("minute_chunk".to_owned(), HOUR, broken)]);
    assert_eq!(data(&scratch, "minute_chunk", ITS_MINUTES), sound);
    let told = writer.take_found();
    assert!(matches!(told.as_slice(), [Found::Piece(piece)] if piece.outcome == Outcome::MinutesAnew), "{told:?}");
    history(&reader, series, 60);
    assert_eq!(reader.take_unreadable(), []);
}

#[test]
fn a_broken_row_of_the_tail_is_set_aside_when_the_store_is_opened() {
    let scratch = scratch();
    let (writer, _, series) = aboard(&scratch);
    drop(writer);
    flip(&scratch, "tail", SECOND_TAIL);
    let broken = data(&scratch, "tail", SECOND_TAIL);
    let mut writer = open(&scratch.path);
    assert_eq!(set_aside(&scratch), [("tail".to_owned(), 10_900_000, broken)]);
    let told = writer.take_found();
    assert!(matches!(told.as_slice(), [Found::Piece(p)] if p.outcome == Outcome::SetAside { count: 100 }), "{told:?}");
    let reader = Reader::open(&scratch.path).expect("opens");
    assert_eq!(seconds(&reader, series), without(10_900..11_000));
    let found = left_out(&reader);
    assert!(found.aside && (found.first_ms, found.last_ms) == (10_900_000, 10_999_999), "{found:?}");
    // It goes on, and the hour closes over the hole.
    let boot = writer.begin_boot("one", BootKind::Live).expect("known");
    assert_eq!(writer.series(&shunt(10_000)).expect("known"), series);
    for second in SAMPLES..5 * 3600 {
        writer.append(series, &sample(boot, second * 1000, &value(second))).expect("fits");
    }
    writer.close().expect("room");
    let all: Vec<i64> = (0..5 * 3600).filter(|second| !(10_900..11_000).contains(second)).collect();
    assert_eq!(seconds(&reader, series), all);
    assert_eq!(left_out(&reader), found);
    let verified = taffrail::store::verify(&scratch.path, &mut |_| {}).expect("readable");
    assert_eq!(verified.findings, []);
}

#[test]
fn a_broken_row_of_the_tail_is_written_anew_while_its_samples_are_in_memory() {
    let scratch = scratch();
    let (mut writer, _, series) = aboard(&scratch);
    let sound = data(&scratch, "tail", SECOND_TAIL);
    flip(&scratch, "tail", SECOND_TAIL);
    let reader = Reader::open(&scratch.path).expect("opens");
    assert_eq!(seconds(&reader, series), without(10_900..11_000));
    writer.set_aside(&left_out(&reader)).expect("room");
    assert_eq!(data(&scratch, "tail", SECOND_TAIL), sound);
    assert_eq!(set_aside(&scratch), []);
    assert_eq!(seconds(&reader, series), without(0..0));
    let told = writer.take_found();
    assert!(matches!(told.as_slice(), [Found::Piece(piece)] if piece.outcome == Outcome::WrittenAnew), "{told:?}");
}

#[test]
fn damaged_pages_cost_the_rows_in_them_and_are_told_once() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..4 * 3600 {
        // Noise, so that a chunk fills pages of its own.
        let noise = (second * second * 7919 % 1_000_003) as f64 / 1000.0;
        writer.append(series, &sample(boot, second * 1000, &[50.0 + noise, noise, 20.0])).expect("fits");
    }
    writer.close().expect("room");
    let chunk = data(&scratch, "chunk", SECOND_HOUR);
    assert!(chunk.len() > 2 * 4096, "{} bytes", chunk.len());
    let mut bytes = std::fs::read(&scratch.path).expect("read");
    let part = &chunk[chunk.len() / 2..chunk.len() / 2 + 64];
    let place = bytes.windows(64).position(|window| window == part).expect("in some page");
    // The number of the next page stands at its head.
    bytes[place / 4096 * 4096..][..4].fill(0xee);
    std::fs::write(&scratch.path, bytes).expect("written");

    let reader = Reader::open(&scratch.path).expect("opens");
    let all: Vec<i64> = (0..4 * 3600).filter(|second| !(3600..7200).contains(second)).collect();
    assert_eq!(seconds(&reader, series), all);
    let found = left_out(&reader);
    assert_eq!((found.source, found.first_ms, found.aside), (Source::Chunk, HOUR, false));
    let fine = history(&reader, series, 20_000);
    assert_eq!(left_out(&reader).first_ms, HOUR);
    assert_eq!(fine.time_ms.len() as i64, SAMPLES - 3600 + 1, "the gap is one row");

    let store = Connection::open(&scratch.path).expect("opens");
    assert!(taffrail::store::verify(&scratch.path, &mut |_| {}).expect("readable").findings.len() > 1);
    // Small files are looked at in full when they are opened for writing: this is one that was open by then.
    assert!(matches!(Writer::open(&scratch.path, Options::default()), Err(taffrail::store::Error::Damaged { .. })));
    let rows: i64 = store.query_row("SELECT count(*) FROM set_aside", params![], |row| row.get(0)).expect("a table");
    assert_eq!(rows, 0);
}
