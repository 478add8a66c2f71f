use super::*;
use crate::quantity::Channel;
use crate::quantity::MonoMs;
use crate::store::reader::Reader;
use crate::store::record::SeriesKind;

struct Ship {
    _dir: tempfile::TempDir,
    writer: Writer,
    series: SeriesId,
    boot: BootNo,
}

fn shunt() -> SeriesSpec {
    SeriesSpec {
        name: "shunt".to_owned(),
        kind: SeriesKind::Device,
        bank: "house".to_owned(),
        channels: vec![Channel::try_new("current_a").expect("a name")],
        gap_ms: 10_000,
    }
}

fn ship(options: Options) -> Ship {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let mut writer = Writer::open(&dir.path().join("marigold.sqlite"), options).expect("opens");
    let boot = writer.begin_boot("one", BootKind::Live).expect("noted");
    let series = writer.series(&shunt()).expect("fits");
    let reading =
        WallReading { mono: MonoMs(0), utc: UtcMs(1_796_083_200_000), trust: crate::clock::Trust::Synchronised };
    writer.clock_fix(boot, reading, "first").expect("known");
    writer.commit().expect("room");
    Ship { _dir: dir, writer, series, boot }
}

impl Ship {
    /// Noise that hardly packs, so that pages fill.
    fn append(&mut self, seconds: std::ops::Range<i64>) {
        for second in seconds {
            let noise = second.wrapping_mul(0x5851_f42d_4c95_7f2d).rem_euclid(1_000_003) as f64;
            let at = Moment { boot: self.boot, mono: MonoMs(second * 1000) };
            self.writer.append_values(self.series, at, &[Some(noise / 1000.0)]).expect("fits");
        }
    }

    /// The card has room for so many pages from now on.
    fn room(&self, pages: i64) {
        let used: i64 = self.writer.connection.query_row("PRAGMA page_count", [], |row| row.get(0)).expect("a number");
        self.writer
            .connection
            .query_row(&format!("PRAGMA max_page_count = {}", used + pages), [], |row| row.get::<_, i64>(0))
            .expect("set");
    }

    fn stored(&self) -> usize {
        Reader::open(&self.writer.path)
            .expect("opens")
            .samples(self.series, UtcMs(i64::MIN), UtcMs(i64::MAX))
            .expect("known")
            .collect::<Result<Vec<_>>>()
            .expect("sound chunks")
            .len()
    }
}

#[test]
fn a_full_card_loses_nothing_that_memory_can_hold() {
    let mut ship = ship(Options::default());
    ship.append(0..100);
    ship.writer.commit().expect("room");
    ship.room(1);
    ship.append(100..3 * 3600);
    let full = ship.writer.commit().expect_err("no room");
    assert!(matches!(full, Error::Full { .. }), "{full}");
    assert!(full.is_transient());
    assert_eq!(ship.stored(), 100, "nothing of it is written");
    ship.append(3 * 3600..5 * 3600);
    assert!(ship.writer.commit().is_err(), "still no room");
    ship.room(10_000);
    let report = ship.writer.commit().expect("room again");
    assert_eq!((report.samples, report.lost), (5 * 3600 - 100, 0));
    assert_eq!(ship.stored(), 5 * 3600);
    assert_eq!(ship.writer.commit().expect("room").samples, 0, "and nothing twice");
    let sums = Reader::open(&ship.writer.path)
        .and_then(|reader| reader.sums(ship.series, UtcMs(i64::MIN), UtcMs(i64::MAX)))
        .expect("reads");
    assert!((sums.covered_s - (5.0 * 3600.0 - 1.0)).abs() < 1e-6);
}

#[test]
fn what_memory_cannot_hold_is_thinned_and_counted_and_its_summaries_stay_whole() {
    let mut ship = ship(Options { pending_bytes: 60_000 });
    ship.append(0..100);
    ship.writer.commit().expect("room");
    ship.room(1);
    ship.append(100..20 * 3600);
    assert!(ship.writer.commit().is_err());
    ship.room(10_000);
    let report = ship.writer.commit().expect("room again");
    assert!(report.thinned > 0);
    assert_eq!(report.lost, 0);
    assert_eq!(report.samples as u64 + report.thinned, 20 * 3600 - 100);
    assert_eq!(ship.stored() as u64, 20 * 3600 - report.thinned);
    let taken: i64 = ship
        .writer
        .connection
        .query_row("SELECT sum(taken - count) FROM thinned JOIN chunk ON chunk.id = thinned.chunk", [], |row| {
            row.get(0)
        })
        .expect("a number");
    assert_eq!(taken.cast_unsigned(), report.thinned, "the store says what is missing, and where");
    // Of whole hours, which come from the summaries.
    let from = UtcMs(1_796_083_200_000 + 3_600_000);
    let sums = Reader::open(&ship.writer.path)
        .and_then(|reader| reader.sums(ship.series, from, UtcMs(from.0 + 18 * 3_600_000)))
        .expect("reads");
    assert!((sums.covered_s - 18.0 * 3600.0).abs() < 1e-6, "{sums:?}");
}

#[test]
fn at_last_the_oldest_is_lost_and_counted() {
    let mut ship = ship(Options { pending_bytes: 10_000 });
    ship.room(1);
    ship.append(0..40 * 3600);
    assert!(ship.writer.commit().is_err());
    ship.room(10_000);
    let report = ship.writer.commit().expect("room again");
    assert!(report.lost > 0);
    assert_eq!(report.samples as u64 + report.thinned + report.lost, 40 * 3600);
    assert_eq!(ship.stored(), report.samples);
    ship.append(40 * 3600..40 * 3600 + 10);
    ship.writer.commit().expect("room");
    assert_eq!(ship.stored(), report.samples + 10);
}

#[test]
fn a_lock_held_by_someone_else_is_waited_out_and_then_said() {
    let mut ship = ship(Options::default());
    ship.writer.connection.busy_timeout(std::time::Duration::from_millis(20)).expect("set");
    let other = Connection::open(&ship.writer.path).expect("opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("locks");
    ship.append(0..10);
    let busy = ship.writer.commit().expect_err("locked");
    assert!(busy.is_transient(), "{busy}");
    other.execute_batch("ROLLBACK").expect("unlocks");
    assert_eq!(ship.writer.commit().expect("free").samples, 10);
}

#[test]
fn a_stretch_closed_but_not_committed_is_folded_after_the_crash() {
    let mut ship = ship(Options::default());
    ship.append(0..3600);
    ship.writer.commit().expect("room");
    ship.append(3600..3700);
    assert_eq!(ship.writer.pending.closed.len(), 1, "the hour has closed in memory");
    let path = ship.writer.path.clone();
    // The crash: nothing is committed any more.
    ship.writer = Writer::open(&path, Options::default()).expect("opens");
    assert_eq!(ship.stored(), 3600);
    ship.writer.begin_boot("two", BootKind::Live).expect("noted");
    let report = ship.writer.commit().expect("room");
    assert_eq!((report.samples, report.chunks), (0, 1), "the tail is folded, and it was safe before");
    assert_eq!(ship.stored(), 3600);
    let tail: i64 =
        ship.writer.connection.query_row("SELECT count(*) FROM tail", [], |row| row.get(0)).expect("a number");
    assert_eq!(tail, 0);
}

#[test]
fn integrals_run_on_across_a_restart() {
    let mut ship = ship(Options::default());
    ship.append(0..5000);
    ship.writer.commit().expect("room");
    let path = ship.writer.path.clone();
    ship.writer = Writer::open(&path, Options::default()).expect("opens");
    ship.series = ship.writer.series(&shunt()).expect("fits");
    ship.append(5000..11_000);
    ship.writer.commit().expect("room");
    let covered: f64 = ship
        .writer
        .connection
        .query_row("SELECT sum(covered_s) FROM hour_summary", [], |row| row.get(0))
        .expect("a sum");
    assert!((covered - (3.0 * 3600.0 - 1.0)).abs() < 1e-6, "{covered}");
}

#[test]
fn a_damaged_last_chunk_keeps_no_new_sample_out() {
    let mut ship = ship(Options::default());
    ship.append(0..3600);
    ship.writer.commit().expect("room");
    let path = ship.writer.path.clone();
    ship.append(3600..3601);
    ship.writer.commit().expect("room");
    ship.writer.connection.execute("UPDATE chunk SET data = x'00'", []).expect("broken");
    ship.writer = Writer::open(&path, Options::default()).expect("opens");
    ship.series = ship.writer.series(&shunt()).expect("fits");
    ship.append(3601..3700);
    let at = Moment { boot: ship.boot, mono: MonoMs(5) };
    let old = ship.writer.append_values(ship.series, at, &[Some(1.0)]);
    assert_eq!(old.expect("fits"), Appended::Refused);
    assert_eq!(ship.writer.commit().expect("room").samples, 99);
}
