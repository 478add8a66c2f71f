//! `taffrail restore`: a copy in the place of the store.

use taffrail::daemon::DataDir;
use taffrail::quantity::UtcMs;
use taffrail::store::Reader;

use super::*;

fn import(desk: &Desk, start: &str) {
    desk.write("trace.csv", STEADY_LOAD);
    let arguments = ["import", "--config", "taffrail.toml", "--bank", "house", "--start", start, "trace.csv"];
    assert_eq!(desk.run(&arguments).status.code(), Some(0));
}

fn samples(path: &std::path::Path) -> usize {
    let reader = Reader::open(path).expect("opens");
    let first = reader.all_series().expect("reads").remove(0).id;
    reader.samples(first, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known").count()
}

/// Seven samples in a backup, fourteen in the store.
fn backed_up() -> Desk {
    let desk = Desk::new();
    import(&desk, "2026-05-01T00:00:00Z");
    assert_eq!(desk.run(&["backup", "copy.sqlite"]).status.code(), Some(0));
    import(&desk, "2026-05-02T00:00:00Z");
    assert_eq!(samples(&desk.path("data/taffrail.sqlite")), 14);
    desk
}

#[test]
fn a_backup_comes_back_and_the_store_of_before_is_kept_and_named() {
    let desk = backed_up();
    let output = desk.run(&["restore", "copy.sqlite"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert_eq!(samples(&desk.path("data/taffrail.sqlite")), 7);
    let told = text(&output.stderr);
    let aside = told.lines().find_map(|line| line.strip_prefix("the store of before is kept as ")).expect("named");
    assert!(aside.contains("taffrail.sqlite.before-restore-"), "{told}");
    assert_eq!(samples(&desk.path(aside)), 14);
    assert_eq!(samples(&desk.path("copy.sqlite")), 7, "the backup is still there");
}

#[test]
fn a_backup_brings_a_new_computer_to_where_the_old_one_was() {
    let desk = backed_up();
    let output = desk.run(&["restore", "--data-dir", "other", "copy.sqlite"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(!text(&output.stderr).contains("of before"), "{}", text(&output.stderr));
    assert_eq!(samples(&desk.path("other/taffrail.sqlite")), 7);
}

#[test]
fn nothing_is_restored_while_somebody_works_on_the_folder() {
    let desk = backed_up();
    let claimed = DataDir::claim(&desk.path("data")).expect("free");
    let output = desk.run(&["restore", "copy.sqlite"]);
    assert_eq!(output.status.code(), Some(70));
    assert!(text(&output.stderr).contains("stop it first"), "{}", text(&output.stderr));
    drop(claimed);
    assert_eq!(samples(&desk.path("data/taffrail.sqlite")), 14);
}

#[test]
fn what_is_no_sound_copy_is_refused_and_the_store_stays() {
    let desk = backed_up();
    let before = std::fs::read(desk.path("data/taffrail.sqlite")).expect("there");
    let mut broken = std::fs::read(desk.path("copy.sqlite")).expect("there");
    let end = broken.len();
    broken[end / 2..].fill(0x5a);
    std::fs::write(desk.path("broken.sqlite"), broken).expect("writable");
    desk.write("garbage.sqlite", &"no store\n".repeat(1000));
    let theirs = rusqlite::Connection::open(desk.path("theirs.sqlite")).expect("opens");
    theirs.execute_batch("CREATE TABLE theirs (x)").expect("made");
    std::fs::copy(desk.path("copy.sqlite"), desk.path("later.sqlite")).expect("copied");
    let later = rusqlite::Connection::open(desk.path("later.sqlite")).expect("opens");
    later.pragma_update(None, "user_version", 99).expect("set");
    for (name, said) in [
        ("broken.sqlite", "is damaged"),
        ("garbage.sqlite", "is damaged"),
        ("theirs.sqlite", "another program"),
        ("later.sqlite", "later version"),
        ("nowhere.sqlite", "no such file"),
        ("data/taffrail.sqlite", "belongs to the store itself"),
    ] {
        let output = desk.run(&["restore", name]);
        assert_ne!(output.status.code(), Some(0), "{name}");
        assert!(text(&output.stderr).contains(said), "{name}: {}", text(&output.stderr));
    }
    assert_eq!(std::fs::read(desk.path("data/taffrail.sqlite")).expect("there"), before);
    let folder = std::fs::read_dir(desk.path("data")).expect("a folder");
    let names: Vec<_> = folder.map(|entry| entry.expect("an entry").file_name().into_string().expect("text")).collect();
    assert!(names.iter().all(|name| !name.contains(".partial") && !name.contains("restore")), "{names:?}");
}
