//! A boat that loses power, again and again.

use std::sync::atomic::{AtomicBool, AtomicU32};

use rusqlite::Connection;
use taffrail::quantity::{Moment, MonoMs};
use taffrail::store::{codec, slate};

use super::*;

/// Boats side by side, and kills of each.
const FLEET: u64 = 6;
const KILLS: u64 = 25;
/// What a kill may cost in samples: 10 s, and as much again on a slow machine.
const LOST_MS: i64 = 20_000;
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

    /// Whether the counter goes on with the charge of before a kill and a band as wide, but for what the kill lost of the
    /// charge: that moves the band's edges too, where it is cut at full or at empty, and where what was bridged as time off
    /// is known by its samples now.
    fn goes_on_counting(self, before: Seen) -> bool {
        self.width() >= before.width() - LOST_SOC && (self.soc - before.soc).abs() < LOST_SOC
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
    let start = taffrail::review::rfc3339(start).expect("a time of our days");
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

/// A life from start to kill.
struct Life {
    first: Seen,
    last: Seen,
    /// When its first sample had come.
    heard_ms: i64,
    killed_ms: i64,
    /// The latest sample that was on the card, in the store or on the slate, just before the kill.
    safe: Option<Moment>,
}

/// How long the daemon lives: mostly a moment, sometimes until about the time of the first note on the slate, and once so
/// long that it must have stored something.
fn span_of(kill: u64, boat: u64) -> Duration {
    Duration::from_millis(match kill {
        KILLS => 22_000,
        7 | 13 | 19 => 8300 + (kill * 131 + boat * 211) % 1300,
        _ => (kill * 37 + boat * 53) % 300,
    })
}

fn live_and_die(
    berth: &Berth,
    wires: &mut Vec<Wire>,
    mark: &AtomicU32,
    span: Duration,
    before: Option<&Life>,
    kills: u64,
) -> Life {
    wires.push(berth.plug());
    let mut daemon = berth.start();
    let first = daemon.wait_for("an answer", |daemon| daemon.now().map(|now| Seen::of(&now)));
    check_store(berth, before, kills);
    let wire = wire_that_is_heard(berth, wires, mark, &mut daemon);
    let heard_ms = Clock::system().mono().0;
    streaming(wire, mark, || {
        std::thread::sleep(span);
        let last = daemon.wait_for("an answer", |daemon| daemon.now().map(|now| Seen::of(&now)));
        let safe = safe_now(berth);
        daemon.kill();
        Life { first, last, heard_ms, killed_ms: Clock::system().mono().0, safe }
    })
}

/// Streams until the daemon has a sample. The number of a new wire may be one that another program still waits for, which
/// then takes it; so it gets another wire now and then.
fn wire_that_is_heard<'w>(berth: &Berth, wires: &'w mut Vec<Wire>, mark: &AtomicU32, daemon: &mut Daemon) -> &'w Wire {
    let deadline = Clock::system().mono() + PATIENCE_S * 1000;
    loop {
        let heard = streaming(wires.last().expect("one at least"), mark, || {
            (0..1000).any(|_| {
                std::thread::sleep(Duration::from_millis(10));
                daemon.now().is_some_and(|now| now["time"].is_string())
            })
        });
        if heard || Clock::system().mono() > deadline {
            daemon.wait_for("a sample", |daemon| daemon.now().filter(|now| now["time"].is_string()));
            return wires.last().expect("one at least");
        }
        wires.push(berth.plug());
    }
}

/// The latest sample of the shunt on the card.
fn safe_now(berth: &Berth) -> Option<Moment> {
    let path = berth.path("data/taffrail.sqlite");
    let all = Reader::open(&path).and_then(|reader| reader.all_series()).expect("reads");
    let shunt = all.iter().find(|series| series.kind == SeriesKind::Device.as_str()).expect("a device").id;
    let stored = berth.stored().last().map(|stored| stored.sample.at);
    let note = slate::latest_note(&std::fs::read(slate::path_of(&path)).unwrap_or_default());
    let of_shunt = note.iter().flat_map(|note| &note.stretches).filter(|stretch| stretch.series == shunt);
    let noted = of_shunt.filter_map(|stretch| {
        let columns = codec::decode(&stretch.data, |_| true).expect("a sound note");
        columns.time_ms.last().map(|last| Moment { boot: stretch.boot, mono: MonoMs(*last) })
    });
    stored.max(noted.max())
}

/// The file is sound; samples are there once, in order, without a hole but where a kill was, up to what was safe before
/// the last kill, and lack no more of that life than a kill may cost.
fn check_store(berth: &Berth, before: Option<&Life>, kills: u64) {
    let file = Connection::open(berth.path("data/taffrail.sqlite")).expect("opens");
    let sound: String = file.query_row("PRAGMA integrity_check", [], |row| row.get(0)).expect("checks");
    assert_eq!(sound, "ok", "after {kills} kills");
    let stored = berth.stored();
    assert!(stored.windows(2).all(|pair| pair[0].sample.at < pair[1].sample.at), "once and in order");
    // The trace that was brought in carries no marks.
    let marks: Vec<f64> = stored.iter().filter_map(|s| s.sample.values.get(MARK).copied().flatten()).collect();
    assert!(marks.is_sorted(), "in the order in which they were sent");
    let holes = marks.windows(2).filter(|pair| pair[1] - pair[0] > 1.5).count() as u64;
    assert!(holes <= kills, "{holes} holes after {kills} kills");
    let Some(before) = before else { return };
    let latest = stored.last().map(|stored| stored.sample.at);
    assert!(latest >= before.safe, "{latest:?} is left, {:?} was safe, after {kills} kills", before.safe);
    if before.killed_ms - before.heard_ms > LOST_MS {
        let lost_ms = before.killed_ms - latest.map_or(before.heard_ms, |at| at.mono.0);
        assert!(lost_ms <= LOST_MS, "{lost_ms} ms of samples are lost");
    }
}

#[test]
fn a_hundred_and_fifty_kills_keep_what_was_safe_and_the_counter_goes_on_with_a_band_as_wide() {
    survive_kills("counter", Seen::goes_on_counting);
}

#[test]
fn a_hundred_and_fifty_kills_keep_what_was_safe_and_the_filter_goes_on_within_its_band() {
    survive_kills("filter", Seen::goes_on_filtering);
}

fn survive_kills(method: &str, goes_on: fn(Seen, Seen) -> bool) {
    std::thread::scope(|scope| {
        for boat in 0..FLEET {
            scope.spawn(move || survive(method, boat, goes_on));
        }
    });
}

fn survive(method: &str, boat: u64, goes_on: fn(Seen, Seen) -> bool) {
    let berth = Berth::new();
    let config = std::fs::read_to_string(berth.path("taffrail.toml")).expect("written");
    let config = config.replace("reserve = 0.30", &format!("reserve = 0.30\nmethod = \"{method}\""));
    std::fs::write(berth.path("taffrail.toml"), config).expect("writable");
    know_the_charge(&berth);
    // Kept to the end: the number of a wire that is given up may be given to another program.
    let mut wires = Vec::new();
    let mark = AtomicU32::new(0);
    let mut before: Option<Life> = None;
    // One more life, to see what the last kill has left.
    for kill in 1..=KILLS + 1 {
        if kill % 10 == 5 {
            // One more, killed while it starts, before anybody can ask it.
            let daemon = berth.start();
            std::thread::sleep(Duration::from_millis(kill + boat));
            daemon.kill();
        }
        let life = live_and_die(&berth, &mut wires, &mark, span_of(kill, boat), before.as_ref(), kill - 1);
        if let Some(before) = &before {
            assert!(
                goes_on(life.first, before.last),
                "{method}, kill {kill}: {:?} after {:?}",
                life.first,
                before.last
            );
        }
        assert!(life.last.width() < 0.9, "kill {kill}: the charge is known: {:?}", life.last);
        before = Some(life);
    }
}
