//! Reconciled history: there after each fix, made good after a kill, never doubled.

use taffrail::clock::{Trust, WallReading};
use taffrail::config::Config;
use taffrail::daemon::{BankLine, Reconciling, catch_up, device_series, reconciled_spec, track_spec};
use taffrail::quantity::{BootNo, Moment, MonoMs, Sample};
use taffrail::reckoning::{Reckoner, Start};
use taffrail::store::{BootKind, Options, Writer};
use tokio_util::sync::CancellationToken;

use super::*;

/// 2026-05-01T00:00:00Z.
const MAY: i64 = 1_777_593_600_000;
const MINUTE: i64 = 60_000;
/// The sensor reads this much too much charge, A.
const OFFSET_A: f64 = 0.3;

/// Voltage and current, as the sensor reads it, in each minute: four hours of load, five of charging; full in the last.
fn seen_in(minute: i64) -> [f64; 2] {
    let (voltage_v, current_a) = match minute {
        0..240 => (50.5, -9.0),
        240..480 => (55.5, 10.0),
        _ => (57.4, 1.0),
    };
    [voltage_v, current_a + OFFSET_A]
}
const MINUTES: i64 = 540;

fn trace() -> String {
    let rows = (0..MINUTES).map(|minute| {
        let [voltage_v, current_a] = seen_in(minute);
        format!("{},{voltage_v},{current_a},20\n", minute * 60)
    });
    std::iter::once("t_s,voltage_v,current_a,temperature_c\n".to_owned()).chain(rows).collect()
}

fn import(berth: &Berth, name: &str, start: &str) {
    let arguments =
        ["import", "--config", "taffrail.toml", "--bank", "house", "--charge", "0.90", "--start", start, name];
    let status = berth.command(&arguments).status().expect("starts");
    assert!(status.success(), "{}", std::fs::read_to_string(berth.path("log")).expect("a log"));
}

/// How many runs are begun and not yet reconciled.
fn anchors(berth: &Berth) -> usize {
    Reader::open(&berth.path("data/taffrail.sqlite")).expect("opens").anchors("house").expect("reads").len()
}

/// Minutes of the fixes, the latest first.
fn fixes(berth: &Berth) -> Vec<i64> {
    let reader = Reader::open(&berth.path("data/taffrail.sqlite")).expect("opens");
    let fixes = reader.fixes("house", UtcMs(i64::MIN), UtcMs(i64::MAX), 1000).expect("reads");
    fixes.iter().map(|fix| (fix.utc.expect("a time").0 - MAY) / MINUTE).collect()
}

/// A bank at work on the berth's store, as a program that uses the library has it.
struct Aboard {
    writer: Writer,
    line: BankLine,
    work: Reconciling,
    path: PathBuf,
}

impl Aboard {
    fn new(berth: &Berth) -> Aboard {
        let config = Config::load(&berth.path("taffrail.toml")).expect("no mistakes");
        std::fs::create_dir_all(&config.data_dir).expect("writable");
        let path = berth.path("data/taffrail.sqlite");
        let mut writer = Writer::open(&path, Options::default()).expect("opens");
        let spec = device_series(&config.devices[0]);
        let main = writer.series(&spec).expect("fits");
        let track = writer.series(&track_spec("house")).expect("fits");
        let reconciled = writer.series(&reconciled_spec("house")).expect("fits");
        let bank = config.banks[0].clone();
        let reckoner = Reckoner::begin(config.method("house"), bank.clone(), Start::At(0.9));
        let line = BankLine::new(reckoner, &spec.channels, main, track).expect("a main device");
        Aboard { writer, line, work: Reconciling { bank, main, reconciled }, path }
    }

    /// A boot whose monotonic time begins at minute `minute` of the voyage.
    fn boot(&mut self, boot_id: &str, minute: i64) -> BootNo {
        let boot = self.writer.begin_boot(boot_id, BootKind::Live).expect("noted");
        let wall = WallReading { mono: MonoMs(0), utc: UtcMs(MAY + minute * MINUTE), trust: Trust::Synchronised };
        self.writer.clock_fix(boot, wall, "start").expect("known boot");
        boot
    }

    /// Lives through these minutes of the voyage, in a boot that began at minute `began`.
    fn live(&mut self, boot: BootNo, began: i64, minutes: std::ops::Range<i64>) {
        for minute in minutes {
            let at = Moment { boot, mono: MonoMs((minute - began) * MINUTE) };
            let [voltage_v, current_a] = seen_in(minute);
            let values = [voltage_v, current_a, 20.0, 0.0].map(Some).to_vec();
            self.line.take(&Sample { at, values }, UtcMs(MAY + minute * MINUTE), &mut self.writer).expect("stored");
        }
        self.writer.commit().expect("room");
    }

    fn catch_up(&mut self) {
        catch_up(&self.path, &self.work, &mut self.writer, &CancellationToken::new()).expect("reads and writes");
    }
}

fn times(line: &[StoredSample]) -> Vec<i64> {
    line.iter().map(|point| (point.utc.0 - MAY) / MINUTE).collect()
}

/// The charge and its band are in order in every point.
fn check_bands(line: &[StoredSample]) {
    for point in line {
        let [soc, low, high] = [0, 1, 2].map(|place| point.sample.values[place].expect("a number"));
        assert!(0.0 <= low && low <= soc && soc <= high && high <= 1.0, "{point:?}");
    }
}

#[test]
fn an_imported_run_is_reconciled_up_to_its_fix_once_and_the_live_line_stays() {
    let berth = Berth::new();
    std::fs::write(berth.path("trace.csv"), trace()).expect("writable");
    import(&berth, "trace.csv", "2026-05-01T00:00:00Z");
    let (live, reconciled) = (berth.line("house-reckoning"), berth.line("house-reconciled"));
    assert_eq!(times(&live), (0..MINUTES).collect::<Vec<_>>());
    let told = fixes(&berth);
    let full = told[0];
    assert!(full > 480, "{told:?}");
    assert_eq!(times(&reconciled), (0..=full).collect::<Vec<_>>(), "up to the fix and not beyond");
    check_bands(&reconciled);
    // The closing error is distributed: what was one step at the fix is none, and the end is that of the live line.
    let charge = |line: &[StoredSample], minute: i64| {
        let place = usize::try_from(minute).expect("not negative");
        line[place].sample.values[0].expect("a number")
    };
    let step = |line: &[StoredSample]| (charge(line, full) - charge(line, full - 1)).abs();
    assert!((charge(&reconciled, full) - charge(&live, full)).abs() < 1e-4);
    assert!(step(&live) > 0.01 && step(&reconciled) < 0.3 * step(&live), "{} of {}", step(&reconciled), step(&live));
    assert_eq!(anchors(&berth), 1, "where the next run begins");
    import(&berth, "trace.csv", "2026-05-01T00:00:00Z");
    assert_eq!(berth.line("house-reckoning"), live);
    assert_eq!(berth.line("house-reconciled"), reconciled);
    assert_eq!((anchors(&berth), fixes(&berth)), (1, told));
}

#[test]
fn an_older_trace_is_reconciled_beside_the_run_that_goes_on() {
    let berth = Berth::new();
    std::fs::write(berth.path("trace.csv"), trace()).expect("writable");
    std::fs::write(berth.path("load.csv"), trace().lines().take(100).map(|l| format!("{l}\n")).collect::<String>())
        .expect("writable");
    import(&berth, "load.csv", "2026-05-02T00:00:00Z");
    assert_eq!((anchors(&berth), berth.line("house-reconciled").len()), (1, 0), "no fix yet");
    import(&berth, "trace.csv", "2026-05-01T00:00:00Z");
    assert!(berth.line("house-reconciled").len() > 480);
    assert_eq!(anchors(&berth), 1, "the later run goes on");
    let mut aboard = Aboard::new(&berth);
    let going_on = aboard.writer.anchors("house").expect("reads");
    assert!(going_on[0].anchor.side.is_none() && going_on[0].anchor.fix.is_none(), "{going_on:?}");
    aboard.catch_up();
    assert_eq!(anchors(&berth), 1);
}

#[test]
fn what_a_kill_left_undone_is_done_at_the_next_start_and_only_once() {
    let berth = Berth::new();
    let mut aboard = Aboard::new(&berth);
    let boot = aboard.boot("before the kill", 0);
    aboard.live(boot, 0, 0..MINUTES);
    // The fix is safe, and nobody came to reconcile.
    drop(aboard);
    assert_eq!((anchors(&berth), berth.line("house-reconciled").len()), (2, 0));
    let live = berth.line("house-reckoning");
    for start in 0..2 {
        let mut daemon = berth.start();
        daemon.wait_for("a reconciled run", |_| {
            (anchors(&berth) == 1 && !berth.line("house-reconciled").is_empty()).then_some(())
        });
        daemon.wait_for("the page", Daemon::now);
        daemon.terminate();
        assert_eq!(daemon.end().and_then(|status| status.code()), Some(0), "start {start}");
        let reconciled = berth.line("house-reconciled");
        let points = times(&reconciled);
        assert!(points.len() > 480 && points == (0..).take(points.len()).collect::<Vec<_>>(), "{points:?}");
        check_bands(&reconciled);
        assert_eq!(berth.line("house-reckoning"), live, "the live line of that time stays");
    }
}

#[test]
fn a_run_over_two_boots_leaves_out_the_time_off_and_what_was_brought_in_meanwhile() {
    let berth = Berth::new();
    let mut aboard = Aboard::new(&berth);
    let first = aboard.boot("the first", 0);
    aboard.live(first, 0, 0..100);
    let import = aboard.writer.begin_boot("a trace", BootKind::Import).expect("noted");
    let wall = WallReading { mono: MonoMs(0), utc: UtcMs(MAY + 30 * MINUTE), trust: Trust::Synchronised };
    aboard.writer.clock_fix(import, wall, "import").expect("known boot");
    let strange = Sample { at: Moment { boot: import, mono: MonoMs(500) }, values: vec![Some(40.0); 4] };
    aboard.writer.append(aboard.work.main, &strange).expect("fits");
    let second = aboard.boot("the second", 150);
    aboard.live(second, 150, 160..MINUTES);
    aboard.catch_up();
    let reconciled = berth.line("house-reconciled");
    let points = times(&reconciled);
    let last = *points.last().expect("reconciled");
    assert!(last > 480);
    assert_eq!(points, (0..100).chain(160..=last).collect::<Vec<_>>());
    check_bands(&reconciled);
    aboard.catch_up();
    assert_eq!(berth.line("house-reconciled"), reconciled);
}
