//! What is known right now, shared between the daemon that finds it out and the requests that show it.

use std::sync::{Arc, Mutex, PoisonError};

use tokio::sync::{broadcast, mpsc, watch};
use tokio_util::sync::CancellationToken;

use super::clock::ClockOrder;
use super::order::Order;
use super::permit::{Permit, Pin};
use super::readers::Readers;
use super::record_order::RecordOrder;
use super::view::{EventView, NowView};
use crate::battery::{Bank, Branch};
use crate::clock::{Clock, ClockState, When};
use crate::link::DeviceStatus;
use crate::quantity::{Channel, MonoMs};
use crate::reckoning::{FixKind, Method, Reckoned};
use crate::store::StoreStatus;

/// Messages that a slow client may lag behind before it misses some.
const FEED_DEPTH: usize = 64;

/// The latest of a bank.
#[derive(Debug, Clone)]
pub struct LiveBank {
    /// The latest reading since the daemon started; `None` before the first.
    pub reading: Option<LiveReading>,
    /// The reckoning after it.
    pub reckoned: Reckoned,
    /// Method of the reckoning.
    pub method: Method,
    /// What corrected it last, when, and what it did, for people.
    pub last_fix: Option<(FixKind, When, String)>,
    /// Since when each learned quantity has had about its present band; in the order of the fields of
    /// [`crate::reckoning::Learned`].
    pub learned_since: [Option<When>; 5],
}

/// The latest sample of a device.
#[derive(Debug, Clone)]
pub struct LiveReading {
    /// When it came, monotonic.
    pub mono: MonoMs,
    /// One value per channel of the device.
    pub values: Vec<Option<f64>>,
}

/// A device and where to see how it fares.
#[derive(Debug, Clone)]
pub struct DeviceWatch {
    /// Its name.
    pub name: String,
    /// Its bank.
    pub bank: String,
    /// Its channels.
    pub channels: Vec<Channel>,
    /// Whether it is the bank's main sensor.
    pub main: bool,
    /// Path of its port.
    pub port: String,
    /// Bits per second.
    pub baud: u32,
    /// How it lays out a line, as the configuration says it.
    pub frame: &'static str,
    /// Seconds without a sample after which it is called silent.
    pub quiet_after_s: f64,
    /// How it fares.
    pub status: watch::Receiver<DeviceStatus>,
}

/// Asks how the store fares.
pub type StoreProbe = Box<dyn Fn() -> StoreStatus + Send + Sync>;

/// A message to every client that listens.
#[derive(Debug)]
pub struct Feed {
    /// `now` or `notice`.
    pub event: &'static str,
    /// JSON.
    pub data: String,
}

/// Everything that requests may need.
pub struct Live {
    /// Name of the boat.
    pub boat: String,
    /// Zone of clock labels.
    pub zone: String,
    /// The banks, in the order of the configuration.
    pub banks: Vec<Bank>,
    /// The branches of all banks, in the order of the configuration.
    pub branches: Vec<Branch>,
    /// The devices.
    pub devices: Vec<DeviceWatch>,
    /// For ages.
    pub clock: Clock,
    /// When the daemon started.
    pub started: MonoMs,
    /// For history.
    pub readers: Readers,
    /// How the store fares.
    pub store: StoreProbe,
    /// Cancelled when the daemon stops.
    pub stop: CancellationToken,
    /// Where hand orders go.
    pub orders: mpsc::Sender<Order>,
    /// Where orders that concern the health record go.
    pub record_orders: mpsc::Sender<RecordOrder>,
    /// What UTC the moments of this boot have, and how far that can be believed.
    pub time: ClockState,
    /// Where a time that is set by hand goes.
    pub clock_orders: mpsc::Sender<ClockOrder>,
    /// The settings in effect, without the PIN.
    pub configuration: String,
    /// Held while a copy of the store is made to be sent.
    pub copying: Arc<tokio::sync::Mutex<()>>,
    heard: Mutex<Vec<Option<Arc<LiveReading>>>>,
    pub(super) permit: Permit,
    latest: Mutex<Vec<Arc<LiveBank>>>,
    feed: broadcast::Sender<Arc<Feed>>,
}

/// The fixed parts of [`Live`].
pub struct LiveParts {
    /// Name of the boat.
    pub boat: String,
    /// Zone of clock labels.
    pub zone: String,
    /// What whoever changes something must know; without one, changes are taken from the machine itself only.
    pub pin: Option<Pin>,
    /// The banks with their state at the start.
    pub banks: Vec<(Bank, LiveBank)>,
    /// The branches of all banks.
    pub branches: Vec<Branch>,
    /// The devices.
    pub devices: Vec<DeviceWatch>,
    /// The clock.
    pub clock: Clock,
    /// For history.
    pub readers: Readers,
    /// How the store fares.
    pub store: StoreProbe,
    /// What UTC the moments of this boot have.
    pub time: ClockState,
    /// Where a time that is set by hand goes.
    pub clock_orders: mpsc::Sender<ClockOrder>,
    /// Cancelled when the daemon stops.
    pub stop: CancellationToken,
    /// Where hand orders go.
    pub orders: mpsc::Sender<Order>,
    /// Where orders that concern the health record go.
    pub record_orders: mpsc::Sender<RecordOrder>,
    /// The settings in effect, without the PIN.
    pub configuration: String,
}

impl Live {
    /// Puts the parts together.
    #[must_use]
    pub fn new(parts: LiveParts) -> Live {
        let (banks, latest) = parts.banks.into_iter().map(|(bank, state)| (bank, Arc::new(state))).unzip();
        Live {
            boat: parts.boat,
            zone: parts.zone,
            permit: Permit::new(parts.pin),
            banks,
            branches: parts.branches,
            configuration: parts.configuration,
            copying: Arc::default(),
            heard: Mutex::new(vec![None; parts.devices.len()]),
            devices: parts.devices,
            started: parts.clock.mono(),
            clock: parts.clock,
            readers: parts.readers,
            store: parts.store,
            stop: parts.stop,
            orders: parts.orders,
            record_orders: parts.record_orders,
            latest: Mutex::new(latest),
            time: parts.time,
            clock_orders: parts.clock_orders,
            feed: broadcast::Sender::new(FEED_DEPTH),
        }
    }

    /// The latest of the bank at `index`.
    #[must_use]
    pub fn latest(&self, index: usize) -> Arc<LiveBank> {
        Arc::clone(&self.latest.lock().unwrap_or_else(PoisonError::into_inner)[index])
    }

    /// The latest sample of the device at `place`; `None` before the first.
    #[must_use]
    pub fn heard(&self, place: usize) -> Option<Arc<LiveReading>> {
        self.heard.lock().unwrap_or_else(PoisonError::into_inner).get(place).cloned().flatten()
    }

    /// Takes the latest sample of the device of that name.
    pub fn hear(&self, device: &str, reading: LiveReading) {
        if let Some(place) = self.devices.iter().position(|each| each.name == device) {
            self.heard.lock().unwrap_or_else(PoisonError::into_inner)[place] = Some(Arc::new(reading));
        }
    }

    /// Takes the latest of the bank at `index` and tells whoever listens.
    pub fn publish(&self, index: usize, state: LiveBank) {
        let state = Arc::new(state);
        self.latest.lock().unwrap_or_else(PoisonError::into_inner)[index] = Arc::clone(&state);
        if self.feed.receiver_count() > 0 {
            self.tell("now", &NowView::new(self, index, &state));
        }
    }

    /// Tells whoever listens of each bank again: the times in it have moved.
    pub fn tell_again(&self) {
        for index in 0..self.banks.len() {
            self.tell("now", &NowView::new(self, index, &self.latest(index)));
        }
    }

    /// Tells whoever listens of an event.
    pub fn notice(&self, event: &EventView) {
        self.tell("notice", event);
    }

    /// A place in the audience.
    #[must_use]
    pub fn listen(&self) -> broadcast::Receiver<Arc<Feed>> {
        self.feed.subscribe()
    }

    /// Place of the bank of that name.
    #[must_use]
    pub fn bank_index(&self, name: &str) -> Option<usize> {
        self.banks.iter().position(|bank| bank.name == name)
    }

    /// The main device of a bank.
    #[must_use]
    pub fn main_device(&self, bank: &str) -> Option<&DeviceWatch> {
        self.devices.iter().find(|device| device.main && device.bank == bank)
    }

    fn tell(&self, event: &'static str, view: &impl serde::Serialize) {
        let data = serde_json::to_string(view).expect("views are plain data and always become JSON");
        // An empty audience is no error.
        let _ = self.feed.send(Arc::new(Feed { event, data }));
    }
}
