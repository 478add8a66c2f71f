//! The page and its API, asked without a network: a boat with two hours behind it.

mod api;
mod clock;
mod days;
mod history;
mod known;
mod orders;
mod passages;
mod permit;
mod set_up;

use std::net::SocketAddr;
use std::sync::Arc;

use axum::body::{Body, to_bytes};
use axum::extract::ConnectInfo;
use axum::http::{HeaderMap, Request, StatusCode};
use serde_json::Value;
use taffrail::clock::{Clock, ClockState, TimeSource, Trust, WallReading};
use taffrail::config::Config;
use taffrail::daemon::{BankLine, device_series, track_spec};
use taffrail::http::{
    ClockOrder, DeviceWatch, Live, LiveBank, LiveParts, LiveReading, Order, Readers, RecordOrder, router,
};
use taffrail::link::DeviceStatus;
use taffrail::quantity::{Band, BandedSoc, BootNo, ClockFix, Moment, MonoMs, Sample, Timeline, UtcMs};
use taffrail::reckoning::{Method, Reckoner, Start};
use taffrail::store::{BootKind, EventRecord, FixRecord, Options, StoreStatus, WaitingFeed, Writer};
use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;
use tower::ServiceExt;

/// 2026-05-01T00:00:00Z, where the boat's monotonic time begins.
const MAY: i64 = 1_777_593_600_000;
const HOUR: i64 = 3_600_000;

const CONFIG: &str = r#"
boat = "Marigold"
zone = "Europe/Lisbon"
[[bank]]
name = "house"
title = "House"
chemistry = "lead-carbon"
cells-in-series = 24
rated-capacity-ah = 120.0
rated-hours = 20.0
peukert-exponent = 1.08
reserve = 0.30
[[device]]
name = "shunt"
bank = "house"
port = "/dev/serial/by-id/some-adapter"
baud = 19200
frame = "json-lines"
"#;

/// A clock that stands, two hours and two seconds after the boot.
struct Standing;

impl TimeSource for Standing {
    fn mono(&self) -> MonoMs {
        MonoMs(2 * HOUR + 2000)
    }

    fn wall(&self) -> WallReading {
        WallReading { mono: self.mono(), utc: UtcMs(MAY + self.mono().0), trust: Trust::Synchronised }
    }

    fn boot_id(&self) -> String {
        "the first of May".to_owned()
    }
}

/// The service, and the folder that it reads.
struct Boat {
    live: Arc<Live>,
    /// Hand orders that nobody has taken yet.
    orders: mpsc::Receiver<Order>,
    /// Times set by hand that nobody has taken yet.
    clock_orders: mpsc::Receiver<ClockOrder>,
    /// Orders to whoever writes the record that nobody has taken yet.
    record_orders: mpsc::Receiver<RecordOrder>,
    /// What UTC the moments of its boot have.
    time: watch::Sender<Arc<Timeline>>,
    dir: tempfile::TempDir,
}

/// The one boot, whose monotonic time begins at `utc`.
fn placed(trust: Trust, utc: i64) -> Timeline {
    Timeline::new([(BootNo(1), ClockFix { mono: MonoMs(0), utc: UtcMs(utc), rank: trust.rank() })])
}

/// An answer.
struct Answer {
    status: StatusCode,
    headers: HeaderMap,
    body: Vec<u8>,
}

impl Answer {
    fn json(&self) -> Value {
        serde_json::from_slice(&self.body).expect("JSON")
    }

    fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("text"))
    }

    /// Checks that it is a problem with this status, and gives its text.
    fn problem(&self, status: u16) -> String {
        assert_eq!(self.status.as_u16(), status, "{}", String::from_utf8_lossy(&self.body));
        assert_eq!(self.header("content-type"), "application/problem+json");
        let json = self.json();
        assert_eq!(json["status"], status);
        json["detail"].as_str().expect("a text").to_owned()
    }
}

impl Boat {
    /// An hour at -6 A and 51 V, an hour at +10 A and 54 V, one sample a second; then the service on what is stored.
    fn afloat() -> Boat {
        Boat::with_pin(None)
    }

    /// The same with a PIN.
    fn with_pin(pin: Option<&str>) -> Boat {
        let dir = tempfile::tempdir().expect("a scratch directory");
        let path = dir.path().join("taffrail.sqlite");
        let config = Config::parse(CONFIG, dir.path()).expect("no mistakes");
        let (bank, device) = (config.banks[0].clone(), &config.devices[0]);
        let mut writer = Writer::open(&path, Options::default()).expect("opens");
        let boot = writer.begin_boot("the first of May", BootKind::Live).expect("noted");
        let zero = WallReading { mono: MonoMs(0), utc: UtcMs(MAY), trust: Trust::Synchronised };
        writer.clock_fix(boot, zero, "start").expect("known boot");
        let series = writer.series(&device_series(device)).expect("fits");
        let track = writer.series(&track_spec("house")).expect("fits");
        let reckoner = Reckoner::begin(Method::Counter, bank.clone(), Start::At(0.8));
        let mut line = BankLine::new(reckoner, &device.spec.channels, series, track).expect("a main device");
        let resting = line.resting();
        let mut last = None;
        for second in 1..=7200 {
            let mono = MonoMs(second * 1000);
            let values = if second <= 3600 { [51.0, -6.0, 20.0] } else { [54.0, 10.0, 20.0] }.map(Some).to_vec();
            let (at, utc) = (Moment { boot, mono }, UtcMs(MAY + mono.0));
            line.take(&Sample { at, values: values.clone() }, utc, &mut writer).expect("stored");
            last = Some(LiveReading { mono, values });
        }
        tell_of_a_fix_and_an_event(&mut writer, Moment { boot, mono: MonoMs(HOUR) });
        writer.close().expect("room");
        let (_, status) = watch::channel(DeviceStatus::new(MonoMs(0), device.spec.channels.len()));
        let (time, seen) = watch::channel(Arc::new(placed(Trust::Synchronised, MAY)));
        let (sender, orders) = mpsc::channel(1);
        let (clock_sender, clock_orders) = mpsc::channel(1);
        let (record_sender, record_orders) = mpsc::channel(1);
        let live = Live::new(LiveParts {
            boat: config.boat.clone(),
            zone: config.zone.clone(),
            pin: pin.map(|pin| pin.parse().expect("a PIN")),
            banks: vec![(bank, resting)],
            branches: Vec::new(),
            devices: vec![DeviceWatch {
                name: "shunt".to_owned(),
                bank: "house".to_owned(),
                channels: device.spec.channels.clone(),
                main: true,
                port: device.spec.port.display().to_string(),
                baud: device.spec.baud,
                frame: device.spec.frame.word(),
                quiet_after_s: device.spec.quiet_after_s,
                status,
            }],
            clock: Clock::new(Standing),
            readers: Readers::new(path, WaitingFeed::default()),
            store: Box::new(StoreStatus::default),
            time: ClockState::new(boot, seen),
            clock_orders: clock_sender,
            stop: CancellationToken::new(),
            orders: sender,
            record_orders: record_sender,
            configuration: config.to_string(),
        });
        live.publish(0, line.live(last));
        Boat { live: Arc::new(live), orders, clock_orders, record_orders, time, dir }
    }

    async fn get(&self, path: &str) -> Answer {
        self.ask(Request::get(path).body(Body::empty()).expect("a request")).await
    }

    /// Asks from the machine itself, if the request does not say from where.
    async fn ask(&self, mut request: Request<Body>) -> Answer {
        let here = ConnectInfo(SocketAddr::from(([127, 0, 0, 1], 40_000)));
        request.extensions_mut().get_or_insert_with(|| here);
        let response = router(Arc::clone(&self.live)).oneshot(request).await.expect("never fails");
        let (head, body) = response.into_parts();
        let body = to_bytes(body, 10_000_000).await.expect("a body").to_vec();
        Answer { status: head.status, headers: head.headers, body }
    }

    /// Publishes the bank as it is but for a change.
    fn change(&self, change: impl FnOnce(&mut LiveBank)) {
        let mut state = LiveBank::clone(&self.live.latest(0));
        change(&mut state);
        self.live.publish(0, state);
    }

    /// The JSON of an answer that must be 200.
    async fn json(&self, path: &str) -> Value {
        let answer = self.get(path).await;
        assert_eq!(answer.status, StatusCode::OK, "{path}: {}", String::from_utf8_lossy(&answer.body));
        assert_eq!(answer.header("content-type"), "application/json", "{path}");
        answer.json()
    }
}

fn tell_of_a_fix_and_an_event(writer: &mut Writer, at: Moment) {
    let soc = BandedSoc { soc: 0.75, band: Band { low: 0.7, high: 0.8 } };
    let fix = FixRecord {
        bank: "house".to_owned(),
        at,
        kind: "hand".to_owned(),
        before: Some(soc),
        after: soc,
        text: "read with a hydrometer".to_owned(),
    };
    writer.fix(fix).expect("taken");
    let event = EventRecord {
        at,
        bank: Some("house".to_owned()),
        device: Some("shunt".to_owned()),
        kind: "bad-input".to_owned(),
        priority: "caution".to_owned(),
        text: "a line could not be read".to_owned(),
    };
    writer.event(event).expect("taken");
}

fn numbers(column: &Value) -> Vec<Option<f64>> {
    column.as_array().expect("a column").iter().map(Value::as_f64).collect()
}
