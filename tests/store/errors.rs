//! A card that refuses: full, failing, or read-only for a while, at every write and every sync in turn.

use fuser::Errno;
use taffrail::store::Error;

use super::power::boat::{Boat, Log, Pace};
use super::power::{STORE, check_image, found};

use super::*;
use crate::store::disk::{Chance, Cut, Disk, Fault, Image, Meets, Platter, shore};

/// So many refusals in a row are borne; then the card is well again.
const BORNE: usize = 3;
/// Few notes and commits, so that each of their writes can be refused in turn.
const PACE: Pace = Pace { secure_after_ms: 40_000, commit_every_ms: 300_000 };

/// What came of a run on a disk that refuses.
struct Ordeal {
    disk: Disk,
    log: Log,
    closed: Result<(), Error>,
    /// Whether anything was refused at all.
    refused: bool,
}

/// A person can act on it, and a program knows that it may pass.
fn check_words(error: &Error) {
    assert!(error.is_transient(), "this passes: {error:?}");
    let words = error.to_string();
    assert!(words.contains(STORE), "where: {words}");
    assert!(["could not", "card is full", "is read-only"].iter().any(|what| words.contains(what)), "what: {words}");
}

/// Opens, lives past a full hour, and closes; goes on after each refusal, and heals the disk after some.
fn endure(fault: Option<Fault>) -> Option<Ordeal> {
    let disk = Disk::mount()?;
    if let Some(fault) = fault {
        disk.refuse(fault);
    }
    let bear = |error: Error| {
        check_words(&error);
        if disk.refused() >= BORNE {
            disk.heal();
        }
    };
    let mut boat = loop {
        match Boat::board(&disk, Log::default(), "boot", 7, PACE) {
            Ok(boat) => break boat,
            Err(error) => bear(error),
        }
    };
    boat.set_out((4 * 3600 - 620) * 1000);
    for _ in 0..700 {
        boat.second().unwrap_or_else(bear);
    }
    let (log, closed) = boat.close();
    if let Err(error) = &closed {
        check_words(error);
    }
    let refused = disk.heal() > 0;
    Some(Ordeal { disk, log, closed, refused })
}

/// Everything that was given is there, or, where closing was refused, everything that was safe; and after a power cut as
/// well. False if nothing was refused.
fn survives(fault: Fault, seed: u64) -> Option<bool> {
    let Ordeal { disk, log, closed, refused } = endure(Some(fault))?;
    let what = format!("{fault:?}");
    let record = disk.record();
    let found = found::check(&disk.path(STORE), &log, &what);
    let note = log.at(record.len());
    let least = if closed.is_ok() { note.given } else { note.safe };
    assert!(least.shunt <= found.shunt && least.fixes <= found.fixes, "{what}: {found:?} of {least:?}");
    assert!(closed.is_ok() || refused, "{what}: {closed:?}");

    let mut chance = Chance(seed);
    let mut platter = Platter::new(&Image::default(), seed);
    let instant = chance.below(record.len() + 1);
    record[..instant].iter().for_each(|change| platter.apply(change));
    let how = Cut::ALL[chance.below(Cut::ALL.len())];
    check_image(&platter.image(how, &mut chance), &log, instant, &format!("{what}, cut after {instant}, {how:?}"));
    Some(refused)
}

/// Refuses the first, then the second, the third ... or every `step`th, until there are no more to refuse.
fn survives_each(meets: Meets, lasts: bool, step: usize, error: impl Fn(usize) -> Errno) {
    let mut ordeals = 0;
    loop {
        let after = ordeals * step;
        match survives(Fault { meets, after, lasts, error: error(ordeals) }, after as u64) {
            None => return,
            Some(false) => break,
            Some(true) => ordeals += 1,
        }
    }
    eprintln!("{ordeals} ordeals");
    assert!(ordeals >= 20, "{ordeals}");
}

#[test]
fn a_card_that_is_full_at_any_write_and_has_room_later_costs_nothing() {
    survives_each(Meets::Changes, true, 1, |_| Errno::ENOSPC);
}

#[test]
fn a_card_that_fails_at_any_one_write_costs_nothing() {
    survives_each(Meets::Changes, false, 1, |_| Errno::EIO);
}

#[test]
fn a_card_that_fails_at_any_sync_once_or_for_a_while_costs_nothing() {
    survives_each(Meets::Syncs, false, 1, |_| Errno::EIO);
    survives_each(Meets::Syncs, true, 1, |_| Errno::EIO);
}

#[test]
fn a_card_that_fails_or_turns_read_only_for_a_while_costs_nothing() {
    survives_each(Meets::Changes, true, 4, |n| if n % 2 == 0 { Errno::EROFS } else { Errno::EIO });
}

/// A writer on a disk that begins well, and a log of how many samples were safe when.
struct Watch<'d> {
    disk: &'d Disk,
    writer: Writer,
    boot: BootNo,
    series: SeriesId,
    given: i64,
    safe: Vec<(usize, i64)>,
}

impl<'d> Watch<'d> {
    fn begin(disk: &'d Disk) -> Watch<'d> {
        let mut writer = open(&disk.path(STORE));
        let boot = boot_at(&mut writer, "one", START);
        let series = writer.series(&shunt(10_000)).expect("fits");
        Watch { disk, writer, boot, series, given: 0, safe: Vec::new() }
    }

    /// Ten more samples, made safe by a commit or at the least cost, if that is to be had.
    fn ten_more(&mut self, commit: bool) -> Result<(), Error> {
        for _ in 0..10 {
            self.given += 1;
            self.writer.append(self.series, &sample(self.boot, self.given * 1000, &[50.0, 1.0, 20.0]))?;
        }
        if commit {
            self.writer.commit()?
        } else {
            self.writer.secure()?
        };
        self.safe.push((self.disk.mark(), self.given));
        Ok(())
    }

    /// The power goes at every instant, and whatever failed syncs have written: what was safe is there.
    fn check(self) {
        let Watch { disk, writer, series, given, safe, .. } = self;
        let record = disk.record();
        for seed in 0..8 {
            let mut chance = Chance(seed);
            let mut platter = Platter::new(&Image::default(), seed);
            for instant in 0..=record.len() {
                if let Some(change) = instant.checked_sub(1).map(|last| &record[last]) {
                    platter.apply(change);
                }
                let Some((_, least)) = safe.iter().rfind(|(mark, _)| *mark <= instant) else { continue };
                let how = Cut::ALL[chance.below(Cut::ALL.len())];
                let shore = shore();
                platter.image(how, &mut chance).lay(shore.path());
                let path = shore.path().join(STORE);
                drop(open(&path));
                let found: Vec<i64> = all_samples(&path, series).iter().map(|s| s.sample.at.mono.0 / 1000).collect();
                let what = format!("seed {seed}, cut after {instant} of {}, {how:?}", record.len());
                assert!(found.iter().copied().eq(1..=found.len() as i64), "{what}: once and in order: {found:?}");
                assert!((*least..=given).contains(&(found.len() as i64)), "{what}: {least} of {}", found.len());
            }
        }
        drop(writer);
    }
}

fn syncs_fail(after: usize, lasts: bool) -> Fault {
    Fault { meets: Meets::Syncs, after, lasts, error: Errno::EIO }
}

#[test]
fn what_is_noted_after_a_commit_that_was_refused_is_safe_even_if_that_commit_reached_the_card() {
    let Some(disk) = Disk::mount() else { return };
    let mut watch = Watch::begin(&disk);
    watch.ten_more(true).expect("nothing is refused");
    disk.refuse(syncs_fail(0, false));
    check_words(&watch.ten_more(true).expect_err("its sync is refused"));
    for _ in 0..2 {
        watch.ten_more(false).expect("nothing is refused");
    }
    watch.check();
}

#[test]
fn a_note_that_failed_is_written_over_and_the_one_before_it_is_not() {
    let Some(disk) = Disk::mount() else { return };
    let mut watch = Watch::begin(&disk);
    watch.ten_more(true).expect("nothing is refused");
    watch.ten_more(false).expect("nothing is refused");
    disk.refuse(syncs_fail(0, true));
    for _ in 0..3 {
        check_words(&watch.ten_more(false).expect_err("neither a note nor a commit can be synced"));
    }
    disk.heal();
    for _ in 0..2 {
        watch.ten_more(false).expect("well again");
    }
    watch.check();
}

#[test]
fn a_store_whose_log_cannot_be_begun_is_not_opened() {
    let mut refused = 0;
    for after in 0..8 {
        let Some(disk) = Disk::mount() else { return };
        disk.refuse(syncs_fail(after, false));
        match Writer::open(&disk.path(STORE), Options::default()) {
            Err(error) => {
                check_words(&error);
                refused += 1;
            }
            Ok(_writer) => {
                let file = rusqlite::Connection::open(disk.path(STORE)).expect("opens");
                let mode: String = file.query_row("PRAGMA journal_mode", [], |row| row.get(0)).expect("reads");
                assert_eq!(mode, "wal", "sync {after}");
            }
        }
    }
    assert!(refused >= 4, "{refused}");
}
