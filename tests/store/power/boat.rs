//! A boat that lives by the second and gives everything to the store, keeping a log of what it gave and what the store
//! has acknowledged.

use taffrail::quantity::{Band, BandedSoc};
use taffrail::store::{Anchor, BootKind, Checkpoint, Error, FixRecord};

use super::*;

pub const BANK: &str = "house";

/// How many of everything, since the first boot.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Tally {
    pub shunt: usize,
    pub track: usize,
    pub fixes: usize,
    /// Samples that the latest checkpoint has seen.
    pub seen: usize,
}

/// Where things stood when the disk's record was so long.
#[derive(Debug, Clone, Copy, Default)]
pub struct Note {
    pub mark: usize,
    pub given: Tally,
    pub safe: Tally,
}

/// What the boat gave, in order; samples carry what [`shunt_values`] and [`track_values`] say.
#[derive(Debug, Clone, Default)]
pub struct Log {
    pub shunt: Vec<Moment>,
    pub track: Vec<Moment>,
    pub fixes: Vec<Moment>,
    pub notes: Vec<Note>,
    given: Tally,
    safe: Tally,
}

impl Log {
    /// Samples of one device alone, in a store that somebody else has made.
    pub fn of(shunt: Vec<Moment>) -> Log {
        Log { shunt, ..Log::default() }
    }

    /// What was given and what was safe when the record was so long.
    pub fn at(&self, mark: usize) -> Note {
        let after = self.notes.partition_point(|note| note.mark <= mark);
        after.checked_sub(1).map_or_else(Note::default, |latest| self.notes[latest])
    }

    /// After a cut: what was found is all there is, and safe, on a disk whose record begins anew.
    pub fn go_on_from(&mut self, found: Tally) {
        self.notes.clear();
        self.keep_only(found, 0);
    }

    /// After the program has died: what was found is all there is. What was given beyond it was never written.
    pub fn keep_only(&mut self, found: Tally, mark: usize) {
        self.shunt.truncate(found.shunt);
        self.track.truncate(found.track);
        self.fixes.truncate(found.fixes);
        self.given = found;
        self.safe = found;
        self.note(mark);
    }

    fn note(&mut self, mark: usize) {
        let note = Note { mark, given: self.given, safe: self.safe };
        match self.notes.last_mut() {
            Some(last) if last.mark == mark => *last = note,
            _ => self.notes.push(note),
        }
    }
}

pub fn shunt_values(at: Moment) -> [f64; 3] {
    let second = at.mono.0 / 1000 + i64::from(at.boot.0);
    let step = |modulus: i64, tens: f64| (second * 7919 % modulus) as f64 / tens;
    [50.0 + step(97, 1000.0), step(41, 100.0) - 8.25, 19.5 + step(3, 10.0)]
}

pub fn track_values(at: Moment) -> [f64; 1] {
    [0.5 + (at.mono.0 / 60_000 % 1000) as f64 / 4096.0]
}

/// How soon what was given is made safe, as the store's thread does it.
#[derive(Debug, Clone, Copy)]
pub struct Pace {
    pub secure_after_ms: i64,
    pub commit_every_ms: i64,
}

pub struct Boat<'d> {
    pub disk: &'d Disk,
    writer: Writer,
    chance: Chance,
    boot: BootNo,
    shunt: SeriesId,
    track: SeriesId,
    reconciled: SeriesId,
    mono: i64,
    pace: Pace,
    committed: i64,
    /// When the first came of what is not safe yet.
    oldest: Option<i64>,
    pub log: Log,
}

impl<'d> Boat<'d> {
    /// Opens the store and begins, or goes on with, the boot of that name. Where its time stands is for
    /// [`Boat::set_out`] to say.
    pub fn board(disk: &'d Disk, log: Log, boot: &str, seed: u64, pace: Pace) -> Result<Boat<'d>, Error> {
        let mut writer = Writer::open(&disk.path(STORE), Options::default())?;
        let at = writer.begin_boot(boot, BootKind::Live)?;
        let utc = START + i64::from(at.0) * 1000 * HOUR;
        writer.clock_fix(at, wall(0, utc, Trust::Synchronised), "first")?;
        let shunt = writer.series(&shunt(10_000))?;
        let track = writer.series(&reckoned("house-reckoning"))?;
        let reconciled = writer.series(&reckoned("house-reconciled"))?;
        let chance = Chance(seed);
        Ok(Boat {
            disk,
            writer,
            chance,
            boot: at,
            shunt,
            track,
            reconciled,
            mono: 0,
            pace,
            committed: 0,
            oldest: None,
            log,
        })
    }

    /// Sets the time since the start of the boot.
    pub fn set_out(&mut self, mono: i64) {
        self.mono = mono;
        self.committed = mono;
    }

    pub fn mono(&self) -> i64 {
        self.mono
    }

    /// One more second: a sample, what comes now and then, and what the store's thread would do by now. Whatever fails
    /// fails in the last of these: everything was given.
    pub fn second(&mut self) -> Result<(), Error> {
        self.give()?;
        self.log.note(self.disk.mark());
        self.keep()
    }

    /// A sample, and what comes now and then.
    fn give(&mut self) -> Result<(), Error> {
        self.mono += 1000;
        let at = at(self.boot, self.mono);
        self.writer.append(self.shunt, &sample(self.boot, self.mono, &shunt_values(at)))?;
        self.log.shunt.push(at);
        if self.mono % 60_000 == 0 {
            self.writer.append(self.track, &sample(self.boot, self.mono, &track_values(at)))?;
            self.log.track.push(at);
            self.writer.checkpoint(self.checkpoint(at))?;
            self.log.given.seen = self.log.shunt.len();
        }
        if self.chance.below(150) == 0 {
            self.fix(at)?;
        }
        let given = &mut self.log.given;
        given.shunt = self.log.shunt.len();
        given.track = self.log.track.len();
        given.fixes = self.log.fixes.len();
        Ok(())
    }

    fn checkpoint(&self, at: Moment) -> Checkpoint {
        Checkpoint { bank: BANK.to_owned(), at, version: 1, state: self.log.shunt.len().to_string() }
    }

    /// A fix with its anchor; the run before the one that ended last is reconciled.
    fn fix(&mut self, at: Moment) -> Result<(), Error> {
        let kind = ["full", "rest", "empty", "hand"][self.chance.below(4)].to_owned();
        let soc = |soc| BandedSoc { soc, band: Band { low: soc - 0.1, high: soc + 0.1 } };
        let fix = FixRecord {
            bank: BANK.to_owned(),
            at,
            kind: kind.clone(),
            before: Some(soc(0.5)),
            after: soc(0.6),
            text: format!("fix {}", self.log.fixes.len()),
        };
        let anchor = Anchor {
            bank: BANK.to_owned(),
            side: None,
            at,
            fix: Some(kind),
            version: 1,
            state: self.log.fixes.len().to_string(),
        };
        self.writer.fix(fix)?;
        self.writer.anchor(anchor)?;
        self.log.fixes.push(at);
        if let [first, second, ..] = self.writer.anchors(BANK)?.as_slice() {
            let points: Vec<Sample> = reconciled_points(first.anchor.at, second.anchor.at);
            self.writer.reconciled(self.reconciled, &points, Some(first.id))?;
        }
        Ok(())
    }

    /// What the store's thread does before the next second.
    fn keep(&mut self) -> Result<(), Error> {
        let by = self.mono + 999;
        self.oldest.get_or_insert(self.mono);
        if by >= self.committed + self.pace.commit_every_ms {
            self.writer.commit()?;
            self.committed = self.mono;
            self.log.safe = self.log.given;
        } else if self.oldest.is_some_and(|oldest| by >= oldest + self.pace.secure_after_ms) {
            self.writer.secure()?;
            // With a fix all is committed; otherwise saved states wait for the next commit.
            let seen =
                if self.log.safe.fixes == self.log.given.fixes { self.log.safe.seen } else { self.log.given.seen };
            self.log.safe = Tally { seen, ..self.log.given };
        } else {
            return Ok(());
        }
        self.oldest = None;
        self.log.note(self.disk.mark());
        Ok(())
    }

    /// Commits and closes the file.
    pub fn close(self) -> (Log, Result<(), Error>) {
        let Boat { disk, writer, mut log, .. } = self;
        let closed = writer.close().map(drop);
        if closed.is_ok() {
            log.safe = log.given;
        }
        log.note(disk.mark());
        (log, closed)
    }

    /// The program is killed: what was not acknowledged may be lost, the disk lives on.
    pub fn die(self) -> Log {
        self.log
    }
}

fn reckoned(name: &str) -> SeriesSpec {
    SeriesSpec { kind: SeriesKind::Reckoning, ..spec(name, &["soc"], 130_000) }
}

/// One point at the beginning of a run, and one at its end.
fn reconciled_points(from: Moment, to: Moment) -> Vec<Sample> {
    [from, to].into_iter().map(|at| Sample { at, values: track_values(at).map(Some).to_vec() }).collect()
}
