//! Power cuts at any instant: whatever was not synced may be lost, half written, or written in another order.

pub mod boat;
pub mod found;
mod upgrade;

use std::collections::BTreeSet;

use crate::store::disk::{Chance, Change, Cut, Disk, Image, Platter, shore};

use super::*;
use boat::{Boat, Log, Pace, Tally};

/// As `taffrail::store::Pace::LIVE`.
const PACE: Pace = Pace { secure_after_ms: 8500, commit_every_ms: 300_000 };
pub const STORE: &str = "marigold.sqlite";

/// A stretch of the boat's life between two power cuts.
struct Leg {
    /// What the disk held at the beginning.
    start: Image,
    record: Vec<Change>,
    log: Log,
    /// Up to here in the record the store was being opened, from there on it was being closed.
    opened: usize,
    closing: usize,
}

/// From opening to closing, over a full hour, with restarts of the program on the way.
fn sail(start: Image, mut log: Log, leg: u64) -> Option<Leg> {
    let disk = Disk::mount_with(&start)?;
    let mut chance = Chance(leg);
    let boot = format!("boot-{leg}");
    let mut boat = Boat::board(&disk, log, &boot, leg, PACE).expect("nothing is refused");
    let opened = disk.mark();
    // 600 samples of an hour are folded when it ends; they begin at some second so long before.
    boat.set_out((4 * 3600 - 620 - chance.below(60) as i64) * 1000);
    for stretch in 0..3 {
        let seconds = 300 + chance.below(60);
        for _ in 0..seconds {
            boat.second().expect("nothing is refused");
        }
        if stretch < 2 {
            let mono = boat.mono();
            log = boat.die();
            let found = found::check(&disk.path(STORE), &log, "killed and opened again");
            log.keep_only(found, disk.mark());
            boat = Boat::board(&disk, log, &boot, leg * 10 + stretch, PACE).expect("nothing is refused");
            boat.set_out(mono);
        }
    }
    let closing = disk.mark();
    let (log, closed) = boat.close();
    closed.expect("nothing is refused");
    Some(Leg { start, record: disk.record(), log, opened, closing })
}

/// Instants of a leg at which the power goes: while it opens, while it closes, near syncs, and anywhere.
fn instants(leg: &Leg, each: usize, chance: &mut Chance) -> Vec<usize> {
    let whole = leg.record.len();
    let syncs: Vec<usize> = (0..whole).filter(|&n| matches!(leg.record[n], Change::Sync { .. })).collect();
    let mut found = Vec::new();
    for _ in 0..each {
        found.push(chance.below(leg.opened + 1));
        found.push(leg.closing + chance.below(whole - leg.closing + 1));
        // Just before, in, and just after.
        let near = syncs[chance.below(syncs.len())];
        found.push((near + chance.below(4)).saturating_sub(1).min(whole));
        found.push(chance.below(whole + 1));
    }
    found.sort_unstable();
    found
}

/// What came of many cuts.
#[derive(Debug, Default)]
struct Outcome {
    cuts: usize,
    images: BTreeSet<u64>,
    /// Samples of one second each.
    greatest_loss: usize,
}

/// Cuts a leg at many instants and checks each; gives one of the images with what is in it.
fn cut(leg: &Leg, each: usize, seed: u64, outcome: &mut Outcome) -> (Image, Tally) {
    let mut chance = Chance(seed);
    let mut platter = Platter::new(&leg.start, seed);
    let mut done = 0;
    let instants = instants(leg, each, &mut chance);
    let survivor = chance.below(instants.len());
    let mut survived = None;
    for (number, instant) in instants.into_iter().enumerate() {
        leg.record[done..instant].iter().for_each(|change| platter.apply(change));
        done = instant;
        let how = Cut::ALL[chance.below(Cut::ALL.len())];
        let image = platter.image(how, &mut chance);
        let what = format!("seed {seed}, cut {number} after {instant} of {}, {how:?}", leg.record.len());
        let found = check_image(&image, &leg.log, instant, &what);
        outcome.cuts += 1;
        outcome.images.insert(image.checksum());
        outcome.greatest_loss = outcome.greatest_loss.max(leg.log.at(instant).given.shunt - found.shunt);
        if number == survivor {
            survived = Some((image, found));
        }
    }
    survived.expect("one of them")
}

/// Opens an image: between what was safe and what was given, nothing else.
pub fn check_image(image: &Image, log: &Log, instant: usize, what: &str) -> Tally {
    let shore = shore();
    image.lay(shore.path());
    let found = found::check(&shore.path().join(STORE), log, what);
    let note = log.at(instant);
    for (part, safe, found, given) in [
        ("samples", note.safe.shunt, found.shunt, note.given.shunt),
        ("points of the track", note.safe.track, found.track, note.given.track),
        ("fixes", note.safe.fixes, found.fixes, note.given.fixes),
        ("samples seen by the checkpoint", note.safe.seen, found.seen, note.given.seen),
    ] {
        assert!((safe..=given).contains(&found), "{what}: {found} {part}; {safe} were safe, {given} given");
    }
    found
}

#[test]
fn after_five_hundred_power_cuts_every_acknowledged_sample_is_there_once() {
    let mut outcome = Outcome::default();
    for voyage in 0..3 {
        let (mut image, mut log) = (Image::default(), Log::default());
        for leg in 0..3 {
            let seed = voyage * 10 + leg;
            let Some(leg) = sail(image, log, seed) else { return };
            let (survivor, found) = cut(&leg, 14, seed, &mut outcome);
            image = survivor;
            log = leg.log;
            log.go_on_from(found);
        }
    }
    println!(
        "{} power cuts, {} distinct images, greatest loss {} s of samples",
        outcome.cuts,
        outcome.images.len(),
        outcome.greatest_loss
    );
    assert!(outcome.cuts >= 500);
    assert!(outcome.greatest_loss <= 10, "{outcome:?}");
}
