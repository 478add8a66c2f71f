//! The disk must be able to find fault: what it says of a sound program is worth no more than what it says of others.

use std::fs::{File, OpenOptions};
use std::io::Write;
use std::os::unix::fs::{FileExt, OpenOptionsExt};

use rusqlite::Connection;

use super::*;

/// What is found after the whole record and a cut.
fn found(disk: &Disk, cut: Cut, seed: u64) -> Image {
    let mut platter = Platter::new(&Image::default(), seed);
    disk.record().iter().for_each(|change| platter.apply(change));
    platter.image(cut, &mut Chance(seed))
}

fn content(image: &Image, name: &str) -> Option<String> {
    image.files.get(name).map(|bytes| String::from_utf8_lossy(bytes).into_owned())
}

#[test]
fn what_was_synced_stays_and_what_came_after_may_go() {
    let Some(disk) = Disk::mount() else { return };
    let mut file = File::create(disk.path("log")).expect("made");
    file.write_all(b"safe").expect("written");
    assert_eq!(content(&found(&disk, Cut::Nothing, 1), "log"), None, "nobody has synced so much as its name");
    file.sync_data().expect("synced");
    file.write_all(b", or not").expect("written");
    assert_eq!(content(&found(&disk, Cut::Nothing, 1), "log").as_deref(), Some("safe"));
    assert_eq!(content(&found(&disk, Cut::Everything, 1), "log").as_deref(), Some("safe, or not"));
    assert_eq!(std::fs::read_to_string(disk.path("log")).expect("reads"), "safe, or not", "whatever is synced");
}

#[test]
fn a_write_is_torn_between_its_sectors_and_nowhere_else() {
    let Some(disk) = Disk::mount() else { return };
    let file = File::create(disk.path("log")).expect("made");
    file.write_all_at(&[b'a'; 4096], 0).expect("written");
    file.sync_data().expect("synced");
    file.write_all_at(&[b'b'; 4096], 0).expect("written");
    let mut mixed = 0;
    for seed in 0..40 {
        for cut in [Cut::Torn, Cut::AnyOrder] {
            let image = found(&disk, cut, seed);
            let sectors: Vec<&[u8]> = image.files["log"].chunks(512).collect();
            assert!(sectors.iter().all(|sector| sector.iter().all(|byte| *byte == sector[0])), "sectors are whole");
            mixed += usize::from(sectors.iter().any(|s| s[0] == b'a') && sectors.iter().any(|s| s[0] == b'b'));
        }
    }
    assert!(mixed > 20, "{mixed} of 80 are torn");
}

#[test]
fn a_new_name_is_safe_once_its_folder_is_synced_and_until_then_the_old_one_may_be_found() {
    let Some(disk) = Disk::mount() else { return };
    std::fs::write(disk.path("new"), "two").expect("written");
    std::fs::write(disk.path("old"), "one").expect("written");
    let folder = File::open(disk.path(".")).expect("a folder");
    for name in ["new", "old"] {
        File::open(disk.path(name)).and_then(|file| file.sync_all()).expect("synced");
    }
    std::fs::rename(disk.path("new"), disk.path("old")).expect("renamed");
    let before = found(&disk, Cut::Nothing, 1);
    assert_eq!((content(&before, "old").as_deref(), content(&before, "new").as_deref()), (Some("one"), Some("two")));
    folder.sync_all().expect("synced");
    let after = found(&disk, Cut::Nothing, 1);
    assert_eq!((content(&after, "old").as_deref(), content(&after, "new")), (Some("two"), None));
}

#[test]
fn direct_writes_are_taken_in_whole_sectors_only() {
    let Some(disk) = Disk::mount() else { return };
    let direct = rustix::fs::OFlags::DIRECT.bits().cast_signed();
    let file = OpenOptions::new().write(true).create_new(true).custom_flags(direct).open(disk.path("slate"));
    let file = file.expect("direct writing is to be had");
    let buffer = vec![7_u8; 3 * 4096];
    let aligned = &buffer[buffer.as_ptr().align_offset(4096)..][..1024];
    file.write_all_at(aligned, 512).expect("aligned");
    assert!(file.write_all_at(aligned, 100).is_err());
    assert!(file.write_all_at(&aligned[..100], 0).is_err());
    assert_eq!(std::fs::read(disk.path("slate")).expect("reads")[512..], *aligned);
}

#[test]
fn the_disk_refuses_what_it_is_told_to_and_is_well_again_when_healed() {
    let Some(disk) = Disk::mount() else { return };
    let mut file = File::create(disk.path("log")).expect("made");
    let fault = |meets, lasts, error| Fault { meets, after: 1, lasts, error };
    disk.refuse(fault(Meets::Changes, true, fuser::Errno::ENOSPC));
    file.write_all(b"1").expect("the first is let through");
    for _ in 0..2 {
        assert_eq!(file.write_all(b"2").expect_err("full").kind(), std::io::ErrorKind::StorageFull);
    }
    assert_eq!(disk.heal(), 2);
    file.write_all(b"3").expect("well again");
    disk.refuse(fault(Meets::Syncs, false, fuser::Errno::EIO));
    file.sync_data().expect("the first is let through");
    file.sync_data().expect_err("refused");
    file.sync_data().expect("only one");
    assert_eq!((disk.asked(Meets::Syncs), disk.refused()), (3, 3));
    disk.refuse(Fault { after: 0, ..fault(Meets::Changes, true, fuser::Errno::EROFS) });
    assert_eq!(File::create(disk.path("other")).expect_err("read-only").kind(), std::io::ErrorKind::ReadOnlyFilesystem);
    File::open(disk.path("log")).expect("it can still be read");
}

/// Commits 60 rows, one by one, and takes the log into the file now and then; gives how many of 200 images are damaged or
/// lack a row whose commit had returned.
fn faults_of(synchronous: &str) -> Option<usize> {
    let disk = Disk::mount()?;
    let file = Connection::open(disk.path("rows")).expect("opens");
    file.execute_batch(&format!(
        "PRAGMA journal_mode = WAL; PRAGMA synchronous = {synchronous}; PRAGMA wal_autocheckpoint = 20;
         CREATE TABLE row (no INTEGER PRIMARY KEY, text TEXT)"
    ))
    .expect("made");
    let made = disk.mark();
    let mut acknowledged = Vec::new();
    for no in 0..60 {
        file.execute("INSERT INTO row VALUES (?1, ?2)", rusqlite::params![no, "x".repeat(700)]).expect("room");
        acknowledged.push(disk.mark());
    }
    drop(file);
    let record = disk.record();
    let mut chance = Chance(1);
    let mut instants: Vec<usize> = (0..200).map(|_| made + chance.below(record.len() + 1 - made)).collect();
    instants.sort_unstable();
    let mut platter = Platter::new(&Image::default(), 1);
    let (mut done, mut faults) = (0, 0);
    for instant in instants {
        record[done..instant].iter().for_each(|change| platter.apply(change));
        done = instant;
        let folder = shore();
        platter.image(Cut::ALL[chance.below(Cut::ALL.len())], &mut chance).lay(folder.path());
        let safe = acknowledged.iter().filter(|mark| **mark <= instant).count();
        faults += usize::from(!is_sound(&folder.path().join("rows"), safe));
    }
    Some(faults)
}

fn is_sound(path: &std::path::Path, safe: usize) -> bool {
    let Ok(file) = Connection::open(path) else { return false };
    let check = file.query_row("PRAGMA integrity_check", [], |row| row.get::<_, String>(0));
    let rows = file.query_row("SELECT count(*) FROM row WHERE length(text) = 700", [], |row| row.get::<_, u32>(0));
    check.is_ok_and(|check| check == "ok") && rows.is_ok_and(|rows| rows as usize >= safe)
}

#[test]
fn a_database_that_does_not_sync_is_found_out_and_one_that_does_is_not() {
    let (Some(off), Some(full)) = (faults_of("OFF"), faults_of("FULL")) else { return };
    println!("of 200 cuts, {off} do harm without syncs, {full} with them");
    assert!(off >= 40, "{off}");
    assert_eq!(full, 0);
}
