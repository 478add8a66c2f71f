//! `taffrail backup`: a copy of the store in one file.

use taffrail::quantity::UtcMs;
use taffrail::store::Reader;

use super::*;

/// Stores seven samples.
fn stored() -> Desk {
    let desk = Desk::new();
    desk.write("trace.csv", STEADY_LOAD);
    let import =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--start", "2026-05-01T00:00:00Z", "trace.csv"];
    assert_eq!(desk.run(&import).status.code(), Some(0));
    desk
}

fn samples(path: &std::path::Path) -> usize {
    let reader = Reader::open(path).expect("opens");
    let first = reader.all_series().expect("reads").remove(0).id;
    reader.samples(first, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("known").count()
}

/// Names in the folder of the desk that begin so.
fn names(desk: &Desk, begins: &str) -> Vec<String> {
    let entries = std::fs::read_dir(desk.path("")).expect("a folder");
    let names = entries.map(|entry| entry.expect("an entry").file_name().into_string().expect("text"));
    names.filter(|name| name.starts_with(begins)).collect()
}

#[test]
fn a_backup_says_what_is_in_it_and_never_overwrites_unless_asked() {
    let desk = stored();
    let made = desk.run(&["backup", "copy.sqlite"]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    let told = text(&made.stderr);
    assert!(told.contains("copy.sqlite: ") && told.contains("read back and sound"), "{told}");
    assert_eq!(samples(&desk.path("copy.sqlite")), 7);

    let again = desk.run(&["backup", "copy.sqlite"]);
    assert_eq!(again.status.code(), Some(2));
    assert!(text(&again.stderr).contains("--replace"), "{}", text(&again.stderr));
    let by_name = desk.run(&["backup", "copy.sqlite", "--replace", "--store", "data/taffrail.sqlite"]);
    assert_eq!(by_name.status.code(), Some(0), "{}", text(&by_name.stderr));
    let itself = desk.run(&["backup", "data/taffrail.sqlite", "--replace"]);
    assert_eq!(itself.status.code(), Some(2));
    assert_eq!(samples(&desk.path("data/taffrail.sqlite")), 7);
    assert_eq!(names(&desk, "copy"), ["copy.sqlite"]);
}

#[test]
fn a_store_that_is_not_there_is_said_to_be_so() {
    let desk = Desk::new();
    let output = desk.run(&["backup", "copy.sqlite"]);
    assert_eq!(output.status.code(), Some(69));
    assert!(text(&output.stderr).contains("there is no store"), "{}", text(&output.stderr));
    assert!(!desk.path("data").exists() && names(&desk, "copy").is_empty());
}

/// Runs a script in the folder of the desk with the program's path in `$TAFFRAIL`.
fn script(desk: &Desk, shell: &[&str], script: &str) -> Output {
    std::process::Command::new(shell[0])
        .args(&shell[1..])
        .arg(script)
        .env("TAFFRAIL", env!("CARGO_BIN_EXE_taffrail"))
        .current_dir(desk.path(""))
        .output()
        .expect("a shell")
}

#[test]
fn a_full_target_is_said_to_be_full_and_nothing_is_left_there() {
    let desk = stored();
    std::fs::create_dir(desk.path("card")).expect("ours");
    let mount = "mount -t tmpfs -o size=64k none card";
    let shell = ["unshare", "-rm", "sh", "-c"];
    let can_mount = script(&desk, &shell, mount);
    if !can_mount.status.success() {
        eprintln!("skipped: no file system of its own to be had ({})", text(&can_mount.stderr).trim());
        return;
    }
    let output = script(&desk, &shell, &format!("{mount} && $TAFFRAIL backup card/copy.sqlite; echo $?; ls card"));
    assert_eq!(text(&output.stdout), "70\n", "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("no room in card"), "{}", text(&output.stderr));
}

#[test]
fn a_copy_that_fails_half_way_leaves_nothing_behind() {
    let desk = stored();
    // Files that may grow to 60 KiB only: less than the store, and enough to read it.
    let output = script(&desk, &["bash", "-c"], "trap '' XFSZ; ulimit -f 60; $TAFFRAIL backup copy.sqlite");
    assert_eq!(output.status.code(), Some(70), "{}", text(&output.stderr));
    assert!(text(&output.stderr).contains("copy.sqlite.partial"), "{}", text(&output.stderr));
    assert!(names(&desk, "copy").is_empty(), "{:?}", names(&desk, "copy"));
}
