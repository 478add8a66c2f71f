//! A boat that loses power, again and again.

use std::sync::atomic::{AtomicBool, AtomicU32};

use super::*;

const KILLS: u32 = 100;
/// One run in this many lives past a commit, which comes every five seconds.
const LONG_EACH: u32 = 10;
const LONG_MS: u64 = 6500;
/// What may be missing before a kill, ms.
const MISSING_MS: i64 = 10_000;
/// A commit's interval and a second for a slow machine, ms: what is missing at a kill that came later than that.
const MISSING_LATE_MS: i64 = 6000;

/// Charge and the width of its band.
#[derive(Debug, Clone, Copy)]
struct Seen {
    soc: f64,
    width: f64,
}

impl Seen {
    fn of(now: &Value) -> Seen {
        let number = |key: &str| now[key].as_f64().expect("a number");
        Seen { soc: number("soc"), width: number("soc_high") - number("soc_low") }
    }
}

/// Moments of a run, monotonic ms.
#[derive(Debug, Clone, Copy)]
struct Times {
    started_ms: i64,
    /// When its first sample was seen.
    heard_ms: i64,
    killed_ms: i64,
}

/// A charge that is known well, ten minutes ago: otherwise the band is as wide as can be from the start.
fn know_the_charge(berth: &Berth) {
    let rows: String = (0..=10).map(|minute| format!("{},51.5,-8.25,19.5\n", minute * 60)).collect();
    std::fs::write(berth.path("trace.csv"), format!("t_s,voltage_v,current_a,temperature_c\n{rows}"))
        .expect("writable");
    let start = UtcMs(Clock::system().wall().utc.0 - 610_000);
    let start = taffrail::http::rfc3339(start).expect("a time of our days");
    let arguments = ["import", "--config", "taffrail.toml", "--bank", "house", "--charge", "0.80", "--start", &start];
    let status = berth.command(&arguments).arg("trace.csv").status().expect("starts");
    assert!(status.success(), "{}", std::fs::read_to_string(berth.path("log")).expect("a log"));
}

/// Streams frames, a hundred a second, while `work` lasts; the marks rise through all runs.
fn streaming<T>(wire: &Wire, mark: &AtomicU32, work: impl FnOnce() -> T) -> T {
    let done = AtomicBool::new(false);
    std::thread::scope(|scope| {
        scope.spawn(|| {
            while !done.load(Ordering::Relaxed) {
                wire.send(frame(mark.fetch_add(1, Ordering::Relaxed)).as_bytes());
                std::thread::sleep(Duration::from_millis(10));
            }
        });
        let result = work();
        done.store(true, Ordering::Relaxed);
        result
    })
}

/// One run, from start to kill. Gives what was seen at first and at last.
fn live_and_die(berth: &Berth, mark: &AtomicU32, life: Duration) -> (Seen, Seen, Times) {
    let wire = berth.plug();
    let started_ms = Clock::system().mono().0;
    let mut daemon = berth.start();
    streaming(&wire, mark, || {
        let first = daemon.wait_for("an answer", 10, |daemon| daemon.now().map(|now| Seen::of(&now)));
        daemon.wait_for("a sample", 10, |daemon| daemon.now().filter(|now| now["time"].is_string()));
        let heard_ms = Clock::system().mono().0;
        std::thread::sleep(life);
        let last = Seen::of(&daemon.now().expect("it lives"));
        daemon.kill();
        (first, last, Times { started_ms, heard_ms, killed_ms: Clock::system().mono().0 })
    })
}

/// What the store holds of a run is one unbroken stretch from its start, and little is missing at its end.
fn check_run(stored: &[StoredSample], Times { started_ms, heard_ms, killed_ms }: Times, long: bool) {
    let of_run: Vec<_> = stored.iter().filter(|s| s.sample.at.mono.0 > started_ms).collect();
    let marks: Vec<f64> = of_run.iter().map(|s| s.sample.values[MARK].expect("a mark")).collect();
    assert!(marks.windows(2).all(|pair| (pair[1] - pair[0] - 1.0).abs() < 1e-9), "a hole in {marks:?}");
    let safe_ms = of_run.last().map_or(heard_ms, |s| s.sample.at.mono.0);
    assert!(killed_ms - safe_ms <= MISSING_MS, "{} ms are missing", killed_ms - safe_ms);
    if long {
        assert!(!of_run.is_empty(), "a commit came in {LONG_MS} ms");
        assert!(killed_ms - safe_ms <= MISSING_LATE_MS, "{} ms are missing", killed_ms - safe_ms);
    }
}

#[test]
fn a_hundred_kills_lose_seconds_and_the_charge_goes_on_with_a_band_as_wide() {
    let berth = Berth::new();
    know_the_charge(&berth);
    let mark = AtomicU32::new(0);
    let mut before: Option<Seen> = None;
    let mut kept = 0;
    for run in 1..=KILLS {
        let long = run % LONG_EACH == 0;
        if run % LONG_EACH == 5 {
            // One more, killed while it starts, before anybody can ask it.
            let daemon = berth.start();
            std::thread::sleep(Duration::from_millis(u64::from(run) / 2));
            daemon.kill();
        }
        let life = Duration::from_millis(if long { LONG_MS } else { u64::from(run * 37 % 300) });
        let (first, last, times) = live_and_die(&berth, &mark, life);
        if let Some(before) = before {
            assert!(first.width >= before.width - 1e-6, "run {run}: {first:?} after {before:?}");
            assert!((first.soc - before.soc).abs() < 1e-3, "run {run}: {first:?} after {before:?}");
        }
        assert!(last.width < 0.9, "run {run}: the charge is known: {last:?}");
        before = Some(last);
        let stored = berth.stored();
        let rising = |pair: &[StoredSample]| {
            let [a, b] = [&pair[0], &pair[1]].map(|s| (s.sample.at.boot, s.sample.at.mono));
            a.0 != b.0 || a.1 < b.1
        };
        assert!(stored.windows(2).all(rising), "run {run}: samples rise within each boot");
        assert!(stored.len() >= kept, "run {run}: what was safe stays safe");
        kept = stored.len();
        check_run(&stored, times, long);
    }
    // Ten long runs, each with at least a second of a hundred samples before its commit.
    assert!(kept > 1000, "{kept}");
}
