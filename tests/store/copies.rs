//! Copies made beside the writer, and copies put back.

use std::sync::atomic::{AtomicBool, Ordering};

use taffrail::store::{Copied, CopyError, CopyStep, copy, finish_put_back, put_back};

use super::*;

fn copied(from: &Path, to: &Path, replace: bool) -> Result<Copied, CopyError> {
    copy(from, to, replace, &mut |_, _, _| {})
}

/// Names in the folder of a file, in order.
fn names(path: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(path.parent().expect("a folder")).expect("a folder");
    let mut names: Vec<String> =
        entries.map(|entry| entry.expect("an entry").file_name().into_string().expect("text")).collect();
    names.sort();
    names
}

#[test]
fn a_copy_holds_what_is_committed_and_what_is_on_the_slate_in_one_file() {
    let scratch = scratch();
    let ashore = tempfile::tempdir().expect("a scratch directory");
    let to = ashore.path().join("copy.sqlite");
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..4000);
    writer.commit().expect("room");
    append(&mut writer, series, boot, 4000..4100);
    writer.secure().expect("room");
    append(&mut writer, series, boot, 4100..4105);

    let mut steps = Vec::new();
    let made = copy(&scratch.path, &to, false, &mut |step, done, total| steps.push((step, done, total))).expect("room");
    assert_eq!((made.soundness.samples, made.soundness.broken.len()), (4100, 0));
    assert_eq!(made.bytes, to.metadata().expect("there").len());
    assert_eq!(names(&to), ["copy.sqlite"]);
    assert_eq!(all_samples(&to, series).len(), 4100);
    assert!(steps.iter().any(|(step, done, total)| *step == CopyStep::Copying && done == total));
    assert!(steps.iter().any(|(step, done, total)| *step == CopyStep::Checking && done == total));

    // The store has noticed nothing.
    assert_eq!(writer.commit().expect("room").samples, 5);
    assert_eq!(all_samples(&scratch.path, series).len(), 4105);
    assert!(matches!(copied(&scratch.path, &to, false), Err(CopyError::Exists(_))));
    copied(&scratch.path, &to, true).expect("room");
    assert_eq!(all_samples(&to, series).len(), 4105);
    drop(open(&to));
    assert_eq!(all_samples(&to, series).len(), 4105, "a writer goes on with it");
}

#[test]
fn a_note_of_before_the_last_commit_is_in_the_copy_once() {
    let scratch = scratch();
    let to = scratch.path.with_file_name("copy.sqlite");
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..50);
    writer.secure().expect("room");
    writer.commit().expect("room");
    assert_eq!(copied(&scratch.path, &to, false).expect("room").soundness.samples, 50);
}

#[test]
fn copies_come_to_an_end_while_somebody_writes_and_each_is_the_store_of_one_instant() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    let done = AtomicBool::new(false);
    let sizes = std::thread::scope(|scope| {
        scope.spawn(|| {
            let mut second = 0;
            while !done.load(Ordering::Relaxed) {
                append(&mut writer, series, boot, second..second + 100);
                second += 100;
                // Commits and notes by turns, so that the slate moves under the copy as well.
                if second % 300 == 0 { writer.commit() } else { writer.secure() }.expect("room");
            }
        });
        let made = (0..12).map(|number| {
            let to = scratch.path.with_file_name(format!("copy-{number}.sqlite"));
            copied(&scratch.path, &to, false).map(|made| (made.soundness.samples, to))
        });
        let made: Vec<_> = made.collect();
        done.store(true, Ordering::Relaxed);
        made
    });
    let sizes: Vec<(u64, PathBuf)> = sizes.into_iter().collect::<Result<_, _>>().expect("made");
    assert!(sizes.is_sorted_by_key(|(samples, _)| *samples), "nothing is unseen again: {sizes:?}");
    for (samples, to) in sizes {
        assert_eq!(samples % 100, 0, "whole commits and whole notes");
        let seconds: Vec<i64> = all_samples(&to, series).iter().map(|s| s.sample.at.mono.0 / 1000).collect();
        assert_eq!(seconds, (0..samples.cast_signed()).collect::<Vec<_>>());
    }
}

#[test]
fn the_store_itself_is_no_place_for_its_copy() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..50);
    writer.secure().expect("room");
    let before = names(&scratch.path);
    let link = scratch.path.with_file_name("link.sqlite");
    std::os::unix::fs::symlink(&scratch.path, &link).expect("a link");
    for name in ["marigold.sqlite", "marigold.sqlite-wal", "marigold.sqlite-slate", "link.sqlite", "./marigold.sqlite"]
    {
        let refused = copied(&scratch.path, &scratch.path.with_file_name(name), true).expect_err("must be refused");
        assert!(matches!(refused, CopyError::IsTheStore(_)), "{name}: {refused}");
    }
    std::fs::remove_file(&link).expect("ours");
    let folder = scratch.path.parent().expect("a folder");
    assert!(matches!(copied(&scratch.path, folder, true), Err(CopyError::IsFolder(_))));
    let beside = scratch.path.with_file_name("copy.sqlite-wal");
    std::fs::write(&beside, b"of another time").expect("writable");
    let refused = copied(&scratch.path, &scratch.path.with_file_name("copy.sqlite"), false);
    assert!(matches!(refused, Err(CopyError::Beside(_))), "its pages would be taken for the copy's");
    std::fs::remove_file(&beside).expect("ours");
    assert_eq!(names(&scratch.path), before);
}

#[test]
fn what_is_broken_in_the_store_is_copied_as_it_is_and_named() {
    let scratch = scratch();
    let to = scratch.path.with_file_name("copy.sqlite");
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..3 * 3600 + 50);
    writer.close().expect("room");
    let file = rusqlite::Connection::open(&scratch.path).expect("opens");
    file.execute("UPDATE chunk SET data = substr(data, 1, 40) WHERE first_mono_ms = ?1", [HOUR]).expect("broken");
    drop(file);
    let made = copied(&scratch.path, &to, false).expect("the rest is worth a copy");
    let broken: Vec<(&str, i64)> = made.soundness.broken.iter().map(|b| (b.table, b.first_mono_ms)).collect();
    assert_eq!(broken, [("chunk", HOUR)]);
    assert_eq!(made.soundness.samples, 2 * 3600 + 50);

    let store = tempfile::tempdir().expect("a scratch directory").keep().join("taffrail.sqlite");
    let refused = put_back(&to, &store, "now", false, &mut |_, _, _| {}).expect_err("must be refused");
    assert!(matches!(&refused, CopyError::Broken { count: 1, .. }), "{refused}");
    assert!(names(&store).is_empty(), "{:?}", names(&store));
    let put = put_back(&to, &store, "now", true, &mut |_, _, _| {}).expect("asked for");
    assert_eq!((put.copied.soundness.samples, put.aside), (2 * 3600 + 50, None));
    std::fs::remove_dir_all(store.parent().expect("a folder")).expect("ours");
}

#[test]
fn a_store_with_broken_pages_is_not_copied() {
    let scratch = scratch();
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..9000);
    writer.close().expect("room");
    let mut bytes = std::fs::read(&scratch.path).expect("read");
    for page in bytes.chunks_mut(4096).skip(2) {
        page[..64].fill(0xff);
    }
    std::fs::write(&scratch.path, bytes).expect("written");
    let refused = copied(&scratch.path, &scratch.path.with_file_name("copy.sqlite"), false).expect_err("damaged");
    assert!(
        matches!(&refused, CopyError::Store(taffrail::store::Error::Damaged { path, .. }) if *path == scratch.path)
    );
    assert!(!names(&scratch.path).iter().any(|name| name.starts_with("copy")), "nothing is left behind");
}

/// A store that was cut off with samples in its log and on its slate, and a copy of an earlier state.
struct Ashore {
    scratch: Scratch,
    series: SeriesId,
    copy: PathBuf,
}

const OLD: usize = 4130;
const NEW: usize = 1000;

fn ashore() -> Ashore {
    let scratch = scratch();
    let copy = scratch.path.with_file_name("copy.sqlite");
    let (mut writer, boot, series) = begun(&scratch.path);
    append(&mut writer, series, boot, 0..1000);
    writer.commit().expect("room");
    copied(&scratch.path, &copy, false).expect("room");
    append(&mut writer, series, boot, 1000..4100);
    writer.commit().expect("room");
    append(&mut writer, series, boot, 4100..4130);
    writer.secure().expect("room");
    // Neither log nor slate is taken in, as after a cut.
    let kept = tempfile::tempdir_in(scratch.path.parent().expect("a folder")).expect("a scratch directory");
    let all = ["", "-wal", "-slate"].map(|end| format!("marigold.sqlite{end}"));
    for name in &all {
        std::fs::copy(scratch.path.with_file_name(name), kept.path().join(name)).expect("copied");
    }
    drop(writer);
    for name in &all {
        std::fs::copy(kept.path().join(name), scratch.path.with_file_name(name)).expect("copied back");
    }
    drop(kept);
    Ashore { scratch, series, copy }
}

impl Ashore {
    fn put_back(&self) -> taffrail::store::PutBack {
        put_back(&self.copy, &self.scratch.path, "20261201T000000Z", false, &mut |_, _, _| {}).expect("room")
    }

    /// The old store, its log and its slate, is whole under its new name, and the copy in its place.
    fn check(&self, aside: &Path) {
        assert_eq!(all_samples(&self.scratch.path, self.series).len(), NEW);
        drop(open(&self.scratch.path));
        assert_eq!(all_samples(&self.scratch.path, self.series).len(), NEW, "nothing of the old one was taken in");
        drop(open(aside));
        assert_eq!(all_samples(aside, self.series).len(), OLD);
    }
}

#[test]
fn the_store_of_before_is_kept_whole_with_its_log_and_its_slate() {
    let ashore = ashore();
    let put = ashore.put_back();
    assert_eq!(put.copied.soundness.samples, NEW as u64);
    let aside = put.aside.expect("there was a store");
    assert_eq!(aside, ashore.scratch.path.with_file_name("marigold.sqlite.before-restore-20261201T000000Z"));
    ashore.check(&aside);
    // And it can be put back itself; what was put aside within the same second is not lost.
    let back = put_back(&aside, &ashore.scratch.path, "20261201T000000Z", false, &mut |_, _, _| {}).expect("room");
    assert_eq!(back.copied.soundness.samples, OLD as u64);
    let second = back.aside.expect("there was a store");
    assert_eq!(all_samples(&second, ashore.series).len(), NEW);
    assert_eq!(all_samples(&aside, ashore.series).len(), OLD);
    assert_eq!(all_samples(&ashore.scratch.path, ashore.series).len(), OLD);
}

#[test]
fn a_restore_that_is_cut_off_at_any_rename_is_finished_by_whoever_claims_the_folder_next() {
    let moved = ["-wal", "-shm", "-journal", "-slate", ""];
    for cut in 0..=moved.len() {
        let ashore = ashore();
        let store = &ashore.scratch.path;
        let aside = store.with_file_name("marigold.sqlite.before-restore-when");
        let end = |path: &Path, end: &str| PathBuf::from(format!("{}{end}", path.display()));
        std::fs::copy(&ashore.copy, end(store, ".restored-when")).expect("copied");
        for name in &moved[..cut] {
            // Not each of them is there.
            let _ = std::fs::rename(end(store, name), end(&aside, name));
        }
        assert_eq!(finish_put_back(store).expect("finished"), Some(aside.clone()), "cut {cut}");
        assert!(!end(store, ".restored-when").exists());
        ashore.check(&aside);
        assert_eq!(finish_put_back(store).expect("nothing to do"), None);
    }
}

#[test]
fn a_copy_that_is_cut_off_changes_nothing_and_the_next_one_clears_it_away() {
    let ashore = ashore();
    let store = &ashore.scratch.path;
    let partial = store.with_file_name("marigold.sqlite.partial");
    std::fs::write(&partial, b"half a copy").expect("writable");
    std::fs::write(store.with_file_name("marigold.sqlite.partial-wal"), b"its log").expect("writable");
    assert_eq!(finish_put_back(store).expect("nothing to do"), None);
    let aside = ashore.put_back().aside.expect("there was a store");
    ashore.check(&aside);
    assert!(!names(store).iter().any(|name| name.contains(".partial")), "{:?}", names(store));
}
