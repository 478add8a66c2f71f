//! Files that are not as they should be, and readers beside the writer.

use taffrail::store::{Anchor, Error, Options, Reader, Writer};

use super::*;

fn refusal(path: &Path) -> Error {
    Writer::open(path, Options::default()).expect_err("must be refused")
}

#[test]
fn a_file_of_a_later_version_is_refused_and_left_alone() {
    let scratch = scratch();
    open(&scratch.path).close().expect("room");
    let set = |version: i64| {
        rusqlite::Connection::open(&scratch.path)
            .and_then(|c| c.pragma_update(None, "user_version", version))
            .expect("set");
    };
    let known = |path: &Path| -> i64 {
        let file = rusqlite::Connection::open(path).expect("opens");
        file.query_row("PRAGMA user_version", [], |row| row.get(0)).expect("a number")
    };
    let present = known(&scratch.path);
    set(99);
    let error = refusal(&scratch.path);
    assert!(matches!(error, Error::TooNew { found: 99, .. }), "{error}");
    assert!(error.to_string().contains("later version"), "{error}");
    assert!(matches!(Reader::open(&scratch.path), Err(Error::TooNew { .. })));
    set(present);
    open(&scratch.path);
}

#[test]
fn a_file_of_the_first_layout_is_brought_to_the_present_one_with_all_that_is_in_it() {
    let scratch = scratch();
    let first = include_str!("../../migrations/0001_store.sql");
    let state = "{\"charge\":1}";
    rusqlite::Connection::open(&scratch.path)
        .and_then(|c| {
            c.execute_batch(first)?;
            c.pragma_update(None, "user_version", 1)?;
            c.pragma_update(None, "application_id", 0x7461_6666)?;
            c.execute("INSERT INTO boot (no, boot_id, kind) VALUES (1, 'one', 'live')", [])?;
            c.execute("INSERT INTO checkpoint VALUES ('house', 1, 5000, 1, ?1)", [state])
        })
        .expect("made");
    let mut writer = open(&scratch.path);
    let saved = writer.load_checkpoint("house").expect("reads").expect("kept");
    assert_eq!((saved.version, saved.state.as_str()), (1, state));
    assert_eq!(writer.anchors("house").expect("reads"), []);
    let anchor = Anchor {
        bank: "house".to_owned(),
        side: None,
        at: at(BootNo(1), 5000),
        fix: Some("full".to_owned()),
        version: 2,
        state: state.to_owned(),
    };
    writer.anchor(anchor.clone()).expect("known boot");
    writer.commit().expect("room");
    let stored = Reader::open(&scratch.path).and_then(|reader| reader.anchors("house")).expect("reads");
    assert_eq!(stored.iter().map(|stored| &stored.anchor).collect::<Vec<_>>(), [&anchor]);
}

#[test]
fn another_programs_database_is_refused() {
    let scratch = scratch();
    rusqlite::Connection::open(&scratch.path).and_then(|c| c.execute_batch("CREATE TABLE theirs (x)")).expect("made");
    assert!(matches!(refusal(&scratch.path), Error::NotOurs { .. }));
    assert_eq!(count(&scratch.path, "theirs"), 0, "and nothing was done to it");
}

#[test]
fn a_file_of_garbage_is_said_to_be_damaged() {
    let scratch = scratch();
    std::fs::write(&scratch.path, [0x5a; 10_000]).expect("written");
    let error = refusal(&scratch.path);
    assert!(matches!(error, Error::Damaged { .. }), "{error}");
    assert!(!error.is_transient());
}

#[test]
fn a_broken_page_is_found_when_the_file_is_opened() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for mono in 0..9000 {
        writer.append(series, &sample(boot, mono * 1000, &[50.0, 1.0, 20.0])).expect("fits");
    }
    writer.close().expect("room");
    let mut bytes = std::fs::read(&scratch.path).expect("read");
    for page in bytes.chunks_mut(4096).skip(2) {
        page[..64].fill(0xff);
    }
    std::fs::write(&scratch.path, bytes).expect("written");
    assert!(matches!(refusal(&scratch.path), Error::Damaged { .. }));
}

#[test]
fn there_is_nothing_to_read_before_a_writer_was_there() {
    let scratch = scratch();
    assert!(Reader::open(&scratch.path).is_err(), "a reader makes no file");
    assert!(!scratch.path.exists());
}

#[test]
fn a_reader_sees_whole_commits_while_the_writer_writes() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    writer.commit().expect("room");
    let path = scratch.path.clone();
    let reading = std::thread::spawn(move || {
        let reader = Reader::open(&path).expect("opens");
        let mut seen = Vec::new();
        while seen.last() != Some(&6000) {
            let samples = reader.samples(series, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known");
            seen.push(samples.collect::<Result<Vec<_>, _>>().expect("sound").len());
        }
        seen
    });
    for batch in 0..60 {
        for second in batch * 100..(batch + 1) * 100 {
            writer.append(series, &sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("fits");
        }
        writer.commit().expect("room");
    }
    let seen = reading.join().expect("read to the end");
    assert!(seen.iter().all(|n| n % 100 == 0), "only whole commits: {seen:?}");
    assert!(seen.is_sorted(), "nothing seen is unseen again");
}

#[test]
fn the_file_is_set_up_as_told_and_people_can_read_it() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..7200 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, -2.0, 20.0])).expect("fits");
    }
    writer.close().expect("room");
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    let text = |sql: &str| -> String { file.query_row(sql, [], |row| row.get(0)).expect(sql) };
    assert_eq!(text("PRAGMA journal_mode"), "wal");
    assert_eq!(text("SELECT CAST(auto_vacuum AS TEXT) FROM pragma_auto_vacuum"), "2");
    assert_eq!(
        text("SELECT start_utc FROM hours WHERE channel = 'current_a' ORDER BY start_utc LIMIT 1"),
        "2026-12-01T00:00:00.000Z"
    );
    let ah: f64 = file
        .query_row("SELECT sum(negative_unit_hours) FROM hours WHERE channel = 'current_a'", [], |row| row.get(0))
        .expect("a sum");
    assert!((ah - -2.0 * 7199.0 / 3600.0).abs() < 1e-9, "{ah}");
}
