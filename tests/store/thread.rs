//! The writer on its own thread.

use std::time::Duration;

use taffrail::clock::Clock;
use taffrail::store::{Error, Pace, PassageEdit, spawn};

use super::*;

fn pace(each: Duration) -> Pace {
    Pace { secure_after: each, commit_every: each }
}

#[test]
fn what_was_sent_is_on_the_card_after_a_flush_and_after_close() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let (handle, thread) = spawn(writer, Clock::system(), pace(Duration::from_secs(3600))).expect("a thread");
    for mono in [1000, 2000] {
        handle.append(series, sample(boot, mono, &[50.0, 1.0, 20.0])).expect("runs");
    }
    assert_eq!(handle.flush_blocking().expect("room").samples, 2);
    assert_eq!(all_samples(&scratch.path, series).len(), 2);
    handle.append(series, sample(boot, 3000, &[50.0, 1.0, 20.0])).expect("runs");
    handle.close().expect("runs");
    assert_eq!(thread.join().expect("no panic").expect("room").samples, 1);
    assert_eq!(all_samples(&scratch.path, series).len(), 3);
    assert!(matches!(handle.append(series, sample(boot, 4000, &[1.0; 3])), Err(Error::Stopped)));
}

#[test]
fn it_commits_by_itself_and_counts_what_does_not_fit() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let (handle, thread) = spawn(writer, Clock::system(), pace(Duration::from_millis(20))).expect("a thread");
    handle.append(series, sample(boot, 1000, &[50.0, 1.0, 20.0])).expect("runs");
    handle.append(series, sample(boot, 2000, &[50.0])).expect("runs");
    for _ in 0..500 {
        if count(&scratch.path, "tail") == 1 {
            break;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    assert_eq!(all_samples(&scratch.path, series).len(), 1);
    assert_eq!(handle.status().unfit, 1);
    drop(handle);
    thread.join().expect("no panic").expect("the last handle gone, it closes");
}

#[tokio::test]
async fn series_and_flush_can_be_awaited() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let (handle, thread) = spawn(writer, Clock::system(), pace(Duration::from_secs(3600))).expect("a thread");
    let series = handle.series(shunt(10_000)).await.expect("fits");
    handle.append(series, sample(boot, 1000, &[50.0, 1.0, 20.0])).expect("runs");
    assert_eq!(handle.flush().await.expect("room").samples, 1);
    drop(handle);
    thread.join().expect("no panic").expect("closes");
}

#[test]
fn what_the_process_has_written_is_counted_by_the_hour_of_the_boot() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let (handle, thread) = spawn(writer, Clock::system(), Pace::LIVE).expect("a thread");
    for second in 0..2 {
        handle.append(series, sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("running");
        handle.flush_blocking().expect("room");
    }
    drop(handle);
    thread.join().expect("ends").expect("room");
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    let rows: (i64, i64, i64) = file
        .query_row("SELECT count(*), min(boot), min(start_mono_ms) FROM written", [], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?))
        })
        .expect("a row");
    // The hour may end meanwhile. How many bytes is the kernel's to say: on a file system in memory there are none.
    assert!((1..=2).contains(&rows.0) && rows.1 == i64::from(boot.0) && rows.2 % HOUR == 0, "{rows:?}");
}

#[test]
fn what_is_asked_of_the_record_is_written_after_what_was_sent_and_answered() {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    let (handle, thread) = spawn(writer, Clock::system(), pace(Duration::from_secs(3600))).expect("a thread");
    handle.append(series, sample(boot, 1000, &[50.0, 1.0, 20.0])).expect("runs");
    let mark = move |end| PassageEdit::Mark {
        bank: "house".to_owned(),
        begin: at(boot, 1000),
        end: at(boot, end),
        name: String::new(),
    };
    let id = handle.at_once_blocking(move |writer| writer.edit_passage(&mark(2000))).expect("possible");
    assert_eq!(all_samples(&scratch.path, series).len(), 1, "the sample is on the card");
    let reader = Reader::open(&scratch.path).expect("opens");
    assert_eq!(reader.passage(id).expect("reads").map(|one| one.end), Some(Some(at(boot, 2000))));
    let refused = handle.at_once_blocking(move |writer| writer.edit_passage(&mark(500)));
    assert!(matches!(refused, Err(Error::Passage(words)) if words.contains("ends after it begins")));
    assert!(handle.status().trouble.is_none(), "which is no trouble of the store");
    handle.close().expect("runs");
    thread.join().expect("no panic").expect("room");
    assert!(matches!(handle.at_once_blocking(|writer| writer.forget_survey("house")), Err(Error::Stopped)));
}
