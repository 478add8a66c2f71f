//! The pipeline with hand orders, from the sample to what is shown and stored.

use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};
use tokio_util::sync::CancellationToken;

use super::*;
use crate::clock::{HandTime, Keeper, When};
use crate::http::{Order, OrderKind, Ordered};
use crate::link::DeviceSample;
use crate::quantity::{Moment, MonoMs, Sample, UtcMs};
use crate::store::Reader;

const CONFIG: &str = r#"
[[bank]]
name = "house"
title = "House bank"
chemistry = "lead-carbon"
cells-in-series = 24
rated-capacity-ah = 120.0
method = "METHOD"
[[device]]
name = "shunt"
bank = "house"
port = "/dev/serial/by-id/some-adapter"
baud = 19200
frame = "json-lines"
"#;

fn config(method: &str) -> String {
    CONFIG.replace("METHOD", method)
}

/// A pipeline at work on a fresh store.
struct Aboard {
    dir: tempfile::TempDir,
    /// The moment just before its first sample.
    start: Moment,
    live: Arc<http::Live>,
    samples: mpsc::Sender<DeviceSample>,
    pipeline: tokio::task::JoinHandle<()>,
    store: store::WriterHandle,
    thread: std::thread::JoinHandle<store::Result<store::CommitReport>>,
}

impl Aboard {
    fn new(method: &str) -> Aboard {
        let dir = tempfile::tempdir().expect("a scratch directory");
        let config = Config::parse(&config(method), dir.path()).expect("no mistakes");
        let clock = Clock::system();
        let path = store_path(dir.path());
        let prepared = prepare::prepare(&config, &clock, &path).expect("a fresh store");
        let boot = prepared.boot;
        let (store, thread) = store::spawn(prepared.writer, clock.clone(), store::Pace::LIVE).expect("a thread");
        let (clock_state, _task) = clock_task::start(&clock, boot, prepared.keeper, store.clone());
        let (_, seen) = watch::channel(link::DeviceStatus::new(clock.mono(), 3));
        let (orders, ordered) = mpsc::channel(ORDERS_AHEAD);
        let live = Arc::new(http::Live::new(http::LiveParts {
            boat: config.boat.clone(),
            zone: config.zone.clone(),
            pin: None,
            banks: prepared.lines.iter().map(|line| (line.bank().clone(), line.resting())).collect(),
            branches: Vec::new(),
            devices: vec![prepare::device_watch(&config.devices[0], seen)],
            clock: clock.clone(),
            readers: http::Readers::new(path, store.feed()),
            store: Box::new(store::StoreStatus::default),
            time: clock_state.clone(),
            clock_orders: mpsc::channel(1).0,
            stop: CancellationToken::new(),
            orders,
            record_orders: mpsc::channel(1).0,
            configuration: config.to_string(),
        }));
        let notices = notices::Notices::new(store.clone(), Arc::clone(&live), clock_state.clone(), boot);
        let pipeline = pipeline::Pipeline::new(pipeline::Parts {
            lines: prepared.lines,
            series: prepared.series,
            store: store.clone(),
            live: Arc::clone(&live),
            clock: clock_state,
            notices,
            fixed: Arc::new(Notify::new()),
        });
        let (samples, arriving) = mpsc::channel(SAMPLES_AHEAD);
        let pipeline = tokio::spawn(pipeline.run(arriving, ordered));
        let start = Moment { boot, mono: clock.mono() };
        Aboard { dir, start, live, samples, pipeline, store, thread }
    }

    fn at(&self, second: i64) -> Moment {
        Moment { mono: MonoMs(self.start.mono.0 + 1000 * second), ..self.start }
    }

    /// A sample so many seconds after the start, taken before this returns.
    async fn hear(&self, second: i64) {
        self.hear_current(second, -6.0).await;
    }

    async fn hear_current(&self, second: i64, current_a: f64) {
        let at = self.at(second);
        let values = vec![Some(51.2), Some(current_a), Some(20.0)];
        let sample = Sample { at, values };
        self.samples.send(DeviceSample { device: "shunt".into(), sample }).await.expect("it listens");
        while self.live.latest(0).reading.as_ref().is_none_or(|reading| reading.mono < at.mono) {
            tokio::task::yield_now().await;
        }
    }

    async fn order(&self, kind: OrderKind) -> std::result::Result<Ordered, String> {
        let (reply, answer) = oneshot::channel();
        self.live.orders.send(Order { bank: 0, kind, reply }).await.expect("it listens");
        answer.await.expect("it answers")
    }

    /// Stops all of it, and gives the folder of the store.
    async fn stop(self) -> tempfile::TempDir {
        drop(self.samples);
        self.pipeline.await.expect("no panic");
        self.store.close().expect("it runs");
        self.thread.join().expect("no panic").expect("closes");
        self.dir
    }
}

#[tokio::test]
async fn a_hand_fix_is_shown_answered_and_stored_with_the_state_after_it() {
    let aboard = Aboard::new("counter");
    let known = OrderKind::Fix { soc: 0.9, std_dev: 0.02 };
    let refused = aboard.order(known).await.expect_err("nothing was heard yet");
    assert!(refused.contains("try again"), "{refused}");
    aboard.hear(1).await;
    assert!(!aboard.live.latest(0).reckoned.start_known);
    let done = aboard.order(known).await.expect("done");
    assert!(done.text.contains("hand fix") && done.text.contains("90.0 %"), "{}", done.text);
    let shown = aboard.live.latest(0);
    assert!((shown.reckoned.soc - 0.9).abs() < 1e-9 && shown.reckoned.soc_band.width() < 0.1);
    assert!(shown.last_fix.as_ref().is_some_and(|(kind, _, text)| kind.word() == "hand" && *text == done.text));
    let at = aboard.at(1);
    let dir = aboard.stop().await;
    let reader = Reader::open(&store_path(dir.path())).expect("a store");
    let fixes = reader.fixes("house", UtcMs(i64::MIN), UtcMs(i64::MAX), 10).expect("reads");
    assert_eq!(fixes.len(), 1);
    assert_eq!((fixes[0].fix.kind.as_str(), fixes[0].fix.before), ("hand", None));
    assert_eq!(fixes[0].fix.at, at);
    // Taken up again, it goes on from there.
    let config = Config::parse(&config("counter"), dir.path()).expect("no mistakes");
    let again = prepare::prepare(&config, &Clock::system(), &store_path(dir.path())).expect("opens");
    assert!((again.lines[0].resting().reckoned.soc - 0.9).abs() < 0.01);
}

#[tokio::test]
async fn a_zero_that_the_method_does_not_know_is_refused_in_words() {
    let aboard = Aboard::new("counter");
    aboard.hear(1).await;
    let refused = aboard.order(OrderKind::Zero).await.expect_err("the counter learns no offset");
    assert!(refused.contains("counter") && refused.contains("nothing was changed"), "{refused}");
    let dir = aboard.stop().await;
    let reader = Reader::open(&store_path(dir.path())).expect("a store");
    assert!(reader.latest_events(10).expect("reads").iter().all(|stored| stored.event.kind != "hand-zero"));
}

#[tokio::test]
async fn a_hand_zero_sets_what_the_sensor_reads_at_no_current_and_is_an_event() {
    let aboard = Aboard::new("filter");
    aboard.hear(1).await;
    let refused = aboard.order(OrderKind::Zero).await.expect_err("6 A are a load");
    assert!(refused.contains("-6.00 A") && refused.contains("nothing was changed"), "{refused}");
    aboard.hear_current(2, 0.2).await;
    let done = aboard.order(OrderKind::Zero).await.expect("the filter learns an offset");
    assert!(done.text.starts_with("House bank: ") && done.text.contains(" A when no current flows"), "{}", done.text);
    assert!(
        aboard.live.latest(0).learned_since.iter().all(Option::is_some),
        "it says since when it knows what it knows"
    );
    let dir = aboard.stop().await;
    let reader = Reader::open(&store_path(dir.path())).expect("a store");
    let events = reader.latest_events(10).expect("reads");
    let zero = events.iter().find(|stored| stored.event.kind == "hand-zero").expect("stored");
    assert_eq!((zero.event.priority.as_str(), &zero.event.text), ("note", &done.text));
}

#[test]
fn what_came_after_the_last_saved_state_is_taken_up_from_the_store() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    // The filter would look at the voltage when it is taken up.
    let config = Config::parse(&config("counter"), dir.path()).expect("no mistakes");
    let (clock, path) = (Clock::system(), store_path(dir.path()));
    let mut prepared = prepare::prepare(&config, &clock, &path).expect("a fresh store");
    prepared.writer.clock_fix(prepared.boot, clock.wall(), "start").expect("known boot");
    let line = &mut prepared.lines[0];
    let start = clock.mono() + -60_000;
    for second in 0..50 {
        let at = Moment { boot: prepared.boot, mono: start + 1000 * second };
        let values = vec![Some(49.0), Some(-100.0), Some(20.0)];
        line.take(&Sample { at, values }, UtcMs(0), &mut prepared.writer).expect("stored");
    }
    prepared.writer.commit().expect("room");
    let saved = prepared.writer.load_checkpoint("house").expect("reads").expect("saved");
    assert_eq!(saved.at.mono, start, "only the first sample saved the state");
    let seen = prepared.lines[0].resting().reckoned;
    // The writer is dropped as by a kill.
    drop(prepared);
    let again = prepare::prepare(&config, &clock, &path).expect("opens");
    let taken_up = again.lines[0].resting().reckoned;
    // Fifty seconds at 100 A are more than 1 % of 120 Ah.
    assert!((taken_up.soc - seen.soc).abs() < 1e-3, "{} after {}", taken_up.soc, seen.soc);
    assert!(taken_up.soc_band.width() >= seen.soc_band.width() - 1e-6);
}

#[test]
fn a_fix_is_saved_with_the_state_after_it() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let text = config("counter").replace("rated-capacity-ah", "full = { hold-s = 30.0 }\nrated-capacity-ah");
    let config = Config::parse(&text, dir.path()).expect("no mistakes");
    let (clock, path) = (Clock::system(), store_path(dir.path()));
    let mut prepared = prepare::prepare(&config, &clock, &path).expect("a fresh store");
    prepared.writer.clock_fix(prepared.boot, clock.wall(), "start").expect("known boot");
    let line = &mut prepared.lines[0];
    let start = clock.mono() + -60_000;
    let fixed = (0..60).find(|second| {
        let at = Moment { boot: prepared.boot, mono: start + 1000 * second };
        let values = vec![Some(57.4), Some(1.0), Some(20.0)];
        let taken = line.take(&Sample { at, values }, UtcMs(0), &mut prepared.writer).expect("stored");
        taken.fix.is_some()
    });
    prepared.writer.commit().expect("room");
    let saved = prepared.writer.load_checkpoint("house").expect("reads").expect("saved");
    assert_eq!(fixed.map(|second| start + 1000 * second), Some(saved.at.mono));
    drop(prepared);
    let again = prepare::prepare(&config, &clock, &path).expect("opens");
    let taken_up = again.lines[0].resting().reckoned;
    assert!(taken_up.start_known && taken_up.soc > 0.99, "{taken_up:?}");
    assert!(again.lines[0].resting().last_fix.is_some());
}

#[test]
fn a_time_set_by_hand_still_holds_when_the_daemon_starts_again_in_the_same_boot() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let config = Config::parse(&config("counter"), dir.path()).expect("no mistakes");
    let (clock, path) = (Clock::system(), store_path(dir.path()));
    let mut prepared = prepare::prepare(&config, &clock, &path).expect("a fresh store");
    let boot = prepared.boot;
    prepared.writer.clock_fix(boot, clock.wall(), "start").expect("known boot");
    let mono = clock.mono();
    let year = 365 * 86_400_000;
    let stated = HandTime { mono, utc: UtcMs(clock.wall().utc.0 + year), even_so: false };
    let set = prepared.keeper.set_by_hand(stated).expect("possible");
    prepared.writer.clock_fix(boot, set.reading, set.kind).expect("known boot");
    prepared.lines[0].fix_by_hand(0.9, 0.02, UtcMs(0), &mut prepared.writer).expect_err("nothing was heard yet");
    let heard = Sample { at: Moment { boot, mono }, values: vec![Some(51.0), Some(-6.0), Some(20.0)] };
    prepared.lines[0].take(&heard, stated.utc, &mut prepared.writer).expect("stored");
    prepared.lines[0].fix_by_hand(0.9, 0.02, stated.utc, &mut prepared.writer).expect("heard");
    prepared.writer.commit().expect("room");
    drop(prepared);
    let mut again = prepare::prepare(&config, &clock, &path).expect("opens");
    assert_eq!(again.boot, boot);
    again.keeper.look(clock.wall()).expect("the first of this run is noted");
    let utc = |keeper: &Keeper| keeper.timeline().utc(Moment { boot, mono }).map(|placed| placed.utc);
    assert_eq!(utc(&again.keeper), Some(stated.utc));
    // The fix before the restart is one of this boot, and would move with it.
    let last_fix = again.lines[0].resting().last_fix.expect("stored");
    assert_eq!(last_fix.1, When::Running(mono));
}

#[test]
fn where_others_may_look_and_no_pin_is_set_the_start_says_that_they_may_change_nothing() {
    let told = |address: &str, pin_set| changes_only_here(address.parse().expect("an address"), pin_set);
    for here in ["127.0.0.1:7245", "[::1]:7245", "[::ffff:127.0.0.1]:7245"] {
        assert_eq!(told(here, false), None);
    }
    for all in ["0.0.0.0:7245", "[::]:7245"] {
        assert!(told(all, false).is_some_and(|text| text.contains("this machine only")));
        assert_eq!(told(all, true), None);
    }
    assert!(told("192.168.4.1:7245", false).is_some_and(|text| text.contains("no changes are taken")));
}
