//! A file that breaks: it is renamed, a new one is begun, and nothing that was in memory is lost.

use std::os::unix::fs::PermissionsExt;

use taffrail::clock::Clock;
use taffrail::store::{Checkpoint, Error, EventRecord, Found, Pace, spawn};

use super::*;

/// A store with two hours in it, all in the one file.
fn sound(scratch: &Scratch) {
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "one", START);
    let series = writer.series(&shunt(10_000)).expect("fits");
    for second in 0..2 * 3600 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("fits");
    }
    let (at, state) = (at(boot, 7_199_000), "{\"charge\":0.8}".to_owned());
    writer.checkpoint(Checkpoint { bank: "house".to_owned(), at, version: 2, state }).expect("known boot");
    writer.close().expect("room");
}

/// Overwrites all but the first two pages. Whoever has the file open must look at it again.
fn break_pages(path: &Path) -> Vec<u8> {
    let mut bytes = std::fs::read(path).expect("read");
    bytes[2 * 4096..].fill(0xff);
    std::fs::write(path, &bytes).expect("written");
    let other = rusqlite::Connection::open(path).expect("opens");
    let version: i64 = other.query_row("PRAGMA user_version", [], |row| row.get(0)).expect("the first page is whole");
    other.pragma_update(None, "user_version", version).expect("room");
    bytes
}

fn beside(path: &Path, end: &str) -> PathBuf {
    PathBuf::from(format!("{}{end}", path.display()))
}

#[test]
fn a_file_that_breaks_in_use_is_renamed_and_everything_in_memory_goes_into_a_new_one() {
    let scratch = scratch();
    sound(&scratch);
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "two", START + 30 * HOUR);
    let series = writer.series(&shunt(10_000)).expect("known");
    writer.append(series, &sample(boot, 0, &[50.0, 1.0, 20.0])).expect("fits");
    writer.commit().expect("room");
    let reader = Reader::open(&scratch.path).expect("opens");
    let broken = break_pages(&scratch.path);
    for second in 1..2 * 3600 {
        writer.append(series, &sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("fits");
    }
    writer
        .event(EventRecord {
            at: at(boot, 5000),
            bank: None,
            device: None,
            kind: "test".to_owned(),
            priority: "note".to_owned(),
            text: "before".to_owned(),
        })
        .expect("known boot");
    let error = writer.commit().expect_err("broken");
    let Error::Damaged { cause, .. } = &error else { panic!("{error}") };
    writer.begin_anew(cause).expect("room");
    writer.commit().expect("room");
    let told = writer.take_found();
    let [Found::Anew(anew)] = told.as_slice() else { panic!("{told:?}") };
    assert_eq!(anew.broken, beside(&scratch.path, ".broken-1"));
    let text = told[0].text();
    assert!(text.contains("marigold.sqlite.broken-1") && text.contains("begun as marigold.sqlite"), "{text}");

    assert!(!reader.is_current() && Reader::open(&scratch.path).expect("opens").is_current());
    assert_eq!(&std::fs::read(&anew.broken).expect("kept")[2 * 4096..], &broken[2 * 4096..], "nothing is deleted");
    let stored = all_samples(&scratch.path, series);
    assert_eq!(stored.len(), 2 * 3600);
    assert!(stored.iter().all(|s| s.sample.at.boot == boot && s.trusted));
    assert_eq!(stored[0].utc, UtcMs(START + 30 * HOUR));
    assert_eq!(count(&scratch.path, "event"), 1);
    // The handles go on.
    writer.append(series, &sample(boot, 8_000_000, &[50.0, 1.0, 20.0])).expect("fits");
    writer.secure().expect("room");
    writer.close().expect("room");
    assert_eq!(all_samples(&scratch.path, series).len(), 2 * 3600 + 1);
    let verified = taffrail::store::verify(&scratch.path, &mut |_| {}).expect("readable");
    assert_eq!(verified.findings, []);
    // And the next start is an ordinary one, with the boot known.
    let mut writer = open(&scratch.path);
    assert_eq!(writer.begin_boot("two", BootKind::Live).expect("known"), boot);
    assert_eq!(writer.take_found(), []);
}

#[test]
fn a_file_that_is_broken_at_the_start_is_renamed_with_all_that_belongs_to_it() {
    for garbage in [false, true] {
        let scratch = scratch();
        sound(&scratch);
        std::fs::write(beside(&scratch.path, "-wal"), "log").expect("written");
        std::fs::write(beside(&scratch.path, ".broken-1"), "an earlier one").expect("written");
        if garbage {
            std::fs::write(&scratch.path, [0x5a; 10_000]).expect("written");
        } else {
            break_pages(&scratch.path);
        }
        let error = Writer::open(&scratch.path, Options::default()).expect_err("broken");
        let Error::Damaged { cause, .. } = &error else { panic!("{error}") };
        let before = std::fs::read(&scratch.path).expect("read");
        let mut writer = Writer::open_anew(&scratch.path, Options::default(), cause).expect("room");
        assert_eq!(std::fs::read(beside(&scratch.path, ".broken-2")).expect("kept"), before);
        assert!(beside(&scratch.path, ".broken-2-slate").exists() || !beside(&scratch.path, "-slate").exists());
        assert_eq!(std::fs::read(beside(&scratch.path, ".broken-1")).expect("kept"), b"an earlier one");
        let boot = boot_at(&mut writer, "two", START + 30 * HOUR);
        assert_eq!(boot, BootNo(1), "nothing could be read of the old one");
        assert_eq!(writer.take_found().len(), 1);
    }
}

#[test]
fn the_saved_state_is_taken_out_of_a_broken_file_that_can_be_read_so_far() {
    let scratch = scratch();
    sound(&scratch);
    let saved = open(&scratch.path).load_checkpoint("house").expect("sound").expect("saved");
    // A chunk's page is damaged, the rest is not.
    let chunks: i64 = rusqlite::Connection::open(&scratch.path)
        .and_then(|c| c.query_row("SELECT rootpage FROM sqlite_schema WHERE name = 'chunk'", [], |row| row.get(0)))
        .expect("a table");
    let mut bytes = std::fs::read(&scratch.path).expect("read");
    let page = usize::try_from(chunks - 1).expect("positive") * 4096;
    bytes[page..page + 4096].fill(0xff);
    std::fs::write(&scratch.path, bytes).expect("written");
    let error = Writer::open(&scratch.path, Options::default()).expect_err("broken");
    let Error::Damaged { cause, .. } = &error else { panic!("{error}") };
    let mut writer = Writer::open_anew(&scratch.path, Options::default(), cause).expect("room");
    assert_eq!(writer.load_checkpoint("house").expect("sound"), Some(saved.clone()));
    let told = writer.take_found();
    assert!(told[0].text().contains("the last known charge of house was taken over"), "{}", told[0].text());
    // With its boot and when that was, so that the time off is known.
    let placed = writer.timeline().expect("sound").utc(saved.at).expect("its clock fix came too");
    assert_eq!(placed.utc, UtcMs(START + 7_199_000));
    assert_eq!(writer.begin_boot("two", BootKind::Live).expect("room"), BootNo(2));
    assert_eq!(writer.begin_boot("one", BootKind::Live).expect("room"), BootNo(1));
}

#[test]
fn a_log_without_its_file_is_kept_too() {
    let scratch = scratch();
    std::fs::write(&scratch.path, "").expect("written");
    std::fs::write(beside(&scratch.path, "-wal"), [7; 4096]).expect("written");
    let error = Writer::open(&scratch.path, Options::default()).expect_err("not silently begun anew");
    assert!(matches!(error, Error::Damaged { .. }), "{error}");
    Writer::open_anew(&scratch.path, Options::default(), "empty").expect("room");
    assert_eq!(std::fs::read(beside(&scratch.path, ".broken-1-wal")).expect("kept"), [7; 4096]);
}

#[test]
fn a_file_that_cannot_be_renamed_stays_and_says_so() {
    let scratch = scratch();
    sound(&scratch);
    let before = break_pages(&scratch.path);
    let folder = scratch.path.parent().expect("a folder");
    // What is not there cannot be renamed, whoever runs this.
    let missing = Writer::open_anew(&scratch.path.join("nowhere"), Options::default(), "broken");
    assert!(matches!(missing, Err(Error::NotRenamed { .. })));
    let mode = std::fs::metadata(folder).expect("there").permissions().mode();
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(0o555)).expect("ours");
    let refused = Writer::open_anew(&scratch.path, Options::default(), "broken");
    std::fs::set_permissions(folder, std::fs::Permissions::from_mode(mode)).expect("ours");
    // Root may write into any folder.
    if let Err(error) = refused {
        assert!(matches!(error, Error::NotRenamed { .. }), "{error}");
        assert!(error.to_string().contains("could not be renamed"), "{error}");
        assert_eq!(std::fs::read(&scratch.path).expect("still there"), before);
    }
}

#[test]
fn the_stores_thread_begins_anew_by_itself_tells_it_and_loses_no_sample() {
    let scratch = scratch();
    sound(&scratch);
    let mut writer = open(&scratch.path);
    let boot = boot_at(&mut writer, "two", START + 30 * HOUR);
    let series = writer.series(&shunt(10_000)).expect("known");
    writer.commit().expect("room");
    let (handle, thread) = spawn(writer, Clock::system(), Pace::LIVE).expect("a thread");
    let mut news = handle.news().expect("not taken yet");
    assert!(handle.news().is_none());
    break_pages(&scratch.path);
    for second in 0..2 * 3600 {
        handle.append(series, sample(boot, second * 1000, &[50.0, 1.0, 20.0])).expect("takes it");
        if second % 1000 == 0 {
            // What does not fit the queue would be lost.
            let _ = handle.flush_blocking();
        }
    }
    handle.flush_blocking().expect("written");
    let event = news.try_recv().expect("told");
    assert_eq!((event.kind.as_str(), event.priority.as_str()), ("store-begun-anew", "warning"));
    assert_eq!(handle.status().trouble, None);
    handle.close().expect("running");
    thread.join().expect("no panic").expect("closed");
    assert_eq!(all_samples(&scratch.path, series).len(), 2 * 3600);
    let reader = Reader::open(&scratch.path).expect("opens");
    let stored = reader.latest_events(10).expect("sound");
    assert!(stored.iter().any(|stored| stored.event.kind == "store-begun-anew"), "{stored:?}");
}
