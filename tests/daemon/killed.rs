//! A boat that loses power, again and again.

use std::sync::atomic::{AtomicBool, AtomicU32};

use super::*;

/// Kills of each method.
const KILLS: u32 = 50;
/// One run in this many lives past a commit.
const LONG_EACH: u32 = 10;
/// What a kill may lose of the charge: the load of the frames for fifty seconds, which is longer than a slow machine
/// takes for a commit and its interval.
const LOST_SOC: f64 = 8.25 * 50.0 / 3600.0 / 120.0;

/// Charge and its band.
#[derive(Debug, Clone, Copy)]
struct Seen {
    soc: f64,
    low: f64,
    high: f64,
}

impl Seen {
    fn of(now: &Value) -> Seen {
        let number = |key: &str| now[key].as_f64().expect("a number");
        Seen { soc: number("soc"), low: number("soc_low"), high: number("soc_high") }
    }

    fn width(self) -> f64 {
        self.high - self.low
    }

    /// Whether the counter goes on with the charge of before a kill and a band as wide. One that ends at full or at empty
    /// is cut there: what the kill lost of the charge moves its other edge.
    fn goes_on_counting(self, before: Seen) -> bool {
        let cut = [before, self].iter().any(|seen| seen.high >= 1.0 || seen.low <= 0.0);
        self.width() >= before.width() - if cut { LOST_SOC } else { 1e-6 } && (self.soc - before.soc).abs() < LOST_SOC
    }

    /// Whether the filter goes on: it may look at the voltage in between, which moves the charge within its band and can
    /// make the band a little narrower.
    fn goes_on_filtering(self, before: Seen) -> bool {
        self.width() >= 0.9 * before.width() && (before.low..=before.high).contains(&self.soc)
    }
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
pub(super) fn streaming<T>(wire: &Wire, mark: &AtomicU32, work: impl FnOnce() -> T) -> T {
    let done = AtomicBool::new(false);
    // Also when `work` fails: the scope waits for the thread.
    let finish = Finish(&done);
    std::thread::scope(|scope| {
        let finish = finish;
        scope.spawn(|| {
            while !done.load(Ordering::Relaxed) {
                wire.send(frame(mark.fetch_add(1, Ordering::Relaxed)).as_bytes());
                std::thread::sleep(Duration::from_millis(10));
            }
        });
        let result = work();
        drop(finish);
        result
    })
}

/// Ends the streaming when it goes.
struct Finish<'a>(&'a AtomicBool);

impl Drop for Finish<'_> {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Relaxed);
    }
}

/// Samples stored since a moment.
fn stored_since(berth: &Berth, started_ms: i64) -> Vec<StoredSample> {
    berth.stored().into_iter().filter(|s| s.sample.at.mono.0 > started_ms).collect()
}

/// One run, from start to kill: so long, or until the store holds something of it. Gives what was seen at first and at
/// last, and how much of the run was known to be stored.
fn live_and_die(berth: &Berth, mark: &AtomicU32, life: Option<Duration>) -> (Seen, Seen, usize) {
    let wire = berth.plug();
    let started_ms = Clock::system().mono().0;
    let mut daemon = berth.start();
    streaming(&wire, mark, || {
        let first = daemon.wait_for("an answer", |daemon| daemon.now().map(|now| Seen::of(&now)));
        daemon.wait_for("a sample", |daemon| daemon.now().filter(|now| now["time"].is_string()));
        let safe = match life {
            Some(life) => {
                std::thread::sleep(life);
                0
            }
            None => daemon.wait_for("a commit", |_| {
                std::thread::sleep(Duration::from_millis(100));
                Some(stored_since(berth, started_ms).len()).filter(|safe| *safe > 0)
            }),
        };
        let last = daemon.wait_for("an answer", |daemon| daemon.now().map(|now| Seen::of(&now)));
        daemon.kill();
        check_run(&stored_since(berth, started_ms), safe);
        (first, last, safe)
    })
}

/// What the store holds of a run is one unbroken stretch, with all of it that was known to be safe.
fn check_run(of_run: &[StoredSample], safe: usize) {
    let marks: Vec<f64> = of_run.iter().map(|s| s.sample.values[MARK].expect("a mark")).collect();
    assert!(marks.windows(2).all(|pair| (pair[1] - pair[0] - 1.0).abs() < 1e-9), "a hole in {marks:?}");
    assert!(marks.len() >= safe, "{} of {safe} are left", marks.len());
}

#[test]
fn fifty_kills_keep_what_was_safe_and_the_counter_goes_on_with_a_band_as_wide() {
    survive_kills("counter", Seen::goes_on_counting);
}

#[test]
fn fifty_kills_keep_what_was_safe_and_the_filter_goes_on_within_its_band() {
    survive_kills("filter", Seen::goes_on_filtering);
}

fn survive_kills(method: &str, goes_on: impl Fn(Seen, Seen) -> bool) {
    let berth = Berth::new();
    let config = std::fs::read_to_string(berth.path("taffrail.toml")).expect("written");
    let config = config.replace("reserve = 0.30", &format!("reserve = 0.30\nmethod = \"{method}\""));
    std::fs::write(berth.path("taffrail.toml"), config).expect("writable");
    know_the_charge(&berth);
    let mark = AtomicU32::new(0);
    let mut before: Option<Seen> = None;
    let (mut kept, mut of_long) = (0, 0);
    for run in 1..=KILLS {
        let long = run % LONG_EACH == 0;
        if run % LONG_EACH == 5 {
            // One more, killed while it starts, before anybody can ask it.
            let daemon = berth.start();
            std::thread::sleep(Duration::from_millis(u64::from(run) / 2));
            daemon.kill();
        }
        let life = (!long).then(|| Duration::from_millis(u64::from(run * 37 % 300)));
        let (first, last, safe) = live_and_die(&berth, &mark, life);
        if let Some(before) = before {
            assert!(goes_on(first, before), "{method}, run {run}: {first:?} after {before:?}");
        }
        assert!(last.width() < 0.9, "run {run}: the charge is known: {last:?}");
        before = Some(last);
        let stored = berth.stored();
        let rising = |pair: &[StoredSample]| {
            let [a, b] = [&pair[0], &pair[1]].map(|s| (s.sample.at.boot, s.sample.at.mono));
            a.0 != b.0 || a.1 < b.1
        };
        assert!(stored.windows(2).all(rising), "run {run}: samples rise within each boot");
        assert!(stored.len() >= kept, "run {run}: what was safe stays safe");
        kept = stored.len();
        of_long += safe;
    }
    assert!(kept >= of_long && of_long >= (KILLS / LONG_EACH) as usize, "{kept} with {of_long} of the long runs");
}
