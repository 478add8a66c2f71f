//! Voyages lived through by starts of the daemon, and then reckoned again.

mod again;
mod cut;

use std::ops::Range;

use super::*;
use crate::clock::{Clock, TimeSource, Trust, WallReading};
use crate::config::Config;
use crate::daemon::prepare::{Prepared, prepare};
use crate::daemon::saved::SavedState;
use crate::daemon::store_path;
use crate::quantity::{BootNo, MonoMs, Sample};
use crate::reckoning::{Learned, Start, TimeOff};
use crate::store::{BootKind, Checkpoint, Options, StoredAnchor, StoredFix, StoredSample};

const CONFIG: &str = r#"
[[bank]]
name = "house"
chemistry = "lead-carbon"
method = "METHOD"
cells-in-series = 24
rated-capacity-ah = 120.0
peukert-exponent = 1.08
[[bank]]
name = "drive"
chemistry = "lead-carbon"
method = "METHOD"
cells-in-series = 24
rated-capacity-ah = 240.0
[[device]]
name = "shunt"
bank = "house"
port = "/dev/serial/by-id/house"
baud = 19200
frame = "json-lines"
[[device]]
name = "drive-shunt"
bank = "drive"
port = "/dev/serial/by-id/drive"
baud = 19200
frame = "json-lines"
"#;

/// 2026-05-01T00:00:00Z.
const MAY: i64 = 1_777_593_600_000;
const MINUTE: i64 = 60_000;
/// Four hours of load, four of charging, and an hour at the end of which the bank is full.
const CYCLE: i64 = 540;
const HOUSE: usize = 0;
const DRIVE: usize = 1;

/// What the shunt says in a minute of the voyage.
fn seen_in(minute: i64) -> Vec<Option<f64>> {
    let (voltage_v, current_a) = match minute % CYCLE {
        // A moment without load, to set the zero in.
        60..62 => (51.5, 0.2),
        0..240 => (50.5, -9.0),
        240..480 => (55.5, 10.0),
        _ => (57.4, 1.0),
    };
    [voltage_v, current_a, 20.0].map(Some).to_vec()
}

/// A clock that stands at a minute of the voyage, in a boot that began at minute `began`.
struct Still {
    boot: &'static str,
    began: i64,
    minute: i64,
}

impl TimeSource for Still {
    fn mono(&self) -> MonoMs {
        MonoMs((self.minute - self.began) * MINUTE)
    }

    fn wall(&self) -> WallReading {
        WallReading { mono: self.mono(), utc: UtcMs(MAY + self.minute * MINUTE), trust: Trust::Synchronised }
    }

    fn boot_id(&self) -> String {
        self.boot.to_owned()
    }
}

/// A boat whose store is lived into by starts of the daemon.
struct Boat {
    dir: tempfile::TempDir,
    config: Config,
}

/// All results of a bank.
#[derive(Debug, Clone, PartialEq)]
struct Results {
    track: Vec<StoredSample>,
    reconciled: Vec<StoredSample>,
    fixes: Vec<StoredFix>,
    anchors: Vec<StoredAnchor>,
    checkpoint: Option<Checkpoint>,
}

impl Results {
    /// Without the numbers of rows, which are none of anybody's.
    fn unnumbered(mut self) -> Results {
        self.fixes.iter_mut().for_each(|fix| fix.id = 0);
        self.anchors.iter_mut().for_each(|anchor| anchor.id = 0);
        self
    }

    fn learned(&self, bank: &Bank) -> Learned {
        let saved = self.checkpoint.as_ref().expect("a state");
        let state = SavedState::read(bank, saved.version, &saved.state).expect("own text");
        let reckoner = state.resume(bank, TimeOff::Known { seconds: 0.0 }).expect("own text");
        reckoner.report().learned.expect("the filter learns")
    }
}

impl Boat {
    fn new() -> Boat {
        Boat::with("filter")
    }

    /// A boat whose banks are reckoned by this method.
    fn with(method: &str) -> Boat {
        let dir = tempfile::tempdir().expect("a scratch directory");
        let config = Config::parse(&CONFIG.replace("METHOD", method), dir.path()).expect("no mistakes");
        Boat { dir, config }
    }

    fn path(&self) -> std::path::PathBuf {
        store_path(self.dir.path())
    }

    fn bank(&self, line: usize) -> &Bank {
        &self.config.banks[line]
    }

    /// A start of the daemon at a minute of the voyage, in a boot that began at minute `began`.
    fn start(&self, boot: &'static str, began: i64, minute: i64) -> Prepared {
        let clock = Clock::new(Still { boot, began, minute });
        let mut prepared = prepare(&self.config, &clock, &self.path()).expect("opens");
        prepared.writer.clock_fix(prepared.boot, clock.wall(), "start").expect("known boot");
        prepared
    }

    /// Lives through some minutes; dropped afterwards, the daemon is killed.
    fn live(&self, daemon: &mut Prepared, line: usize, began: i64, minutes: Range<i64>) {
        for minute in minutes {
            let at = Moment { boot: daemon.boot, mono: MonoMs((minute - began) * MINUTE) };
            let sample = Sample { at, values: seen_in(minute) };
            daemon.lines[line].take(&sample, UtcMs(MAY + minute * MINUTE), &mut daemon.writer).expect("stored");
        }
        daemon.writer.commit().expect("room");
        let work = &daemon.reconciling[line];
        catch_up(&self.path(), work, &mut daemon.writer, &CancellationToken::new()).expect("reads and writes");
    }

    /// A day and a night with a restart in the first boot, and a second boot.
    fn sail(&self) {
        let mut daemon = self.start("the first", 0, 0);
        self.live(&mut daemon, HOUSE, 0, 0..700);
        drop(daemon);
        let mut daemon = self.start("the first", 0, 705);
        self.live(&mut daemon, HOUSE, 0, 705..900);
        drop(daemon);
        let mut daemon = self.start("the second", 930, 931);
        self.live(&mut daemon, HOUSE, 930, 931..1300);
    }

    fn wish(&self, bank: &Bank, wish: Wish, watch: &mut Watch<'_>) -> Ended {
        let main = &self.config.devices.iter().find(|device| device.bank == bank.name).expect("one").spec.name;
        let job = Rereckoning { bank, method: self.config.method(&bank.name), main, wish, samples_per_commit: 200 };
        let mut writer = Writer::open(&self.path(), Options::default()).expect("opens");
        rereckon(&job, &mut writer, &self.path(), watch).expect("reads and writes")
    }

    fn again(&self, bank: &Bank, wish: Wish) -> Report {
        match self.wish(bank, wish, &mut |_| ControlFlow::Continue(())) {
            Ended::Done(report) => report,
            other => panic!("{other:?}"),
        }
    }

    fn results(&self, line: usize) -> Results {
        let name = &self.bank(line).name;
        let reader = Reader::open(&self.path()).expect("opens");
        let points = |name: String| {
            let series = series_of(&reader, &self.bank(line).name, &name).expect("reads").expect("there");
            let all = reader.samples(series.id, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("reads");
            all.collect::<Result<Vec<_>>>().expect("sound chunks")
        };
        Results {
            track: points(track_spec(name).name),
            reconciled: points(reconciled_spec(name).name),
            fixes: reader.fixes(name, UtcMs(i64::MIN), UtcMs(i64::MAX), 1000).expect("reads"),
            anchors: reader.anchors(name).expect("reads"),
            checkpoint: Writer::open(&self.path(), Options::default())
                .and_then(|writer| writer.load_checkpoint(name))
                .expect("reads"),
        }
    }

    /// Rows under names that nobody reads.
    fn left_over(&self) -> i64 {
        rusqlite::Connection::open(self.path())
            .and_then(|c| {
                let sql = "SELECT (SELECT count(*) FROM series WHERE bank LIKE '% (%')
                    + (SELECT count(*) FROM fix WHERE bank LIKE '% (%')
                    + (SELECT count(*) FROM anchor WHERE bank LIKE '% (%')
                    + (SELECT count(*) FROM checkpoint WHERE bank LIKE '% (%')
                    + (SELECT count(*) FROM chunk WHERE series NOT IN (SELECT id FROM series))
                    + (SELECT count(*) FROM minute_chunk WHERE id NOT IN (SELECT id FROM chunk))
                    + (SELECT count(*) FROM hour_summary WHERE series NOT IN (SELECT id FROM series))";
                c.query_row(sql, [], |row| row.get(0))
            })
            .expect("a store")
    }
}

fn soc(point: &StoredSample) -> f64 {
    point.sample.values[0].expect("a number")
}

fn minute_of(utc: Option<UtcMs>) -> i64 {
    (utc.expect("placed").0 - MAY) / MINUTE
}
