//! What the API shows, field by field. Names and units are part of the contract.

use std::collections::BTreeMap;

use serde::Serialize;
use utoipa::ToSchema;

use super::learned::{LearnedView, learned_views};
use super::live::{Live, LiveBank};
use super::outlook::OutlookView;
use crate::link::PortState;
use crate::quantity::Channel;
use crate::review::rfc3339;
use crate::store::StoredEvent;

/// What corrected the reckoning last.
#[derive(Debug, Serialize, ToSchema)]
pub struct FixView {
    /// `full`, `rest`, `empty` or `hand`.
    kind: &'static str,
    /// When, RFC 3339.
    time: Option<String>,
    /// What it did, for people.
    text: String,
}

/// The main device of a bank.
#[derive(Debug, Serialize, ToSchema)]
pub struct DeviceView {
    /// Its name.
    name: String,
    /// `live`, `silent` (open, nothing comes), `closed` (the port is gone) or `waiting` (nothing yet).
    state: &'static str,
    /// Why it is not live, with the next step.
    reason: Option<String>,
    /// Seconds since the last sample.
    quiet_s: Option<f64>,
}

/// A bank now. Values are `null` where nothing is known.
#[derive(Debug, Serialize, ToSchema)]
pub struct NowView {
    /// Name of the bank.
    bank: String,
    /// When the values were read, RFC 3339; `null` before the first reading since the start.
    time: Option<String>,
    /// Whether that time can be believed.
    time_trusted: bool,
    /// Age of the values, s.
    age_s: Option<f64>,
    /// Why nothing can be stored at present; `null` while all is well.
    store_trouble: Option<String>,
    /// The bank's main device.
    device: Option<DeviceView>,
    /// Voltage of the bank, V.
    voltage_v: Option<f64>,
    /// Current, A; positive charges.
    current_a: Option<f64>,
    /// Power, W; positive charges.
    power_w: Option<f64>,
    /// Temperature, °C.
    temperature_c: Option<f64>,
    /// Further channels of the device by name.
    channels: BTreeMap<String, Option<f64>>,
    /// State of charge, 0..1.
    soc: f64,
    /// Lower edge of its 95 % band.
    soc_low: f64,
    /// Upper edge.
    soc_high: f64,
    /// Charge held, Ah.
    charge_ah: f64,
    /// Capacity at the rated hours and 25 °C, Ah.
    capacity_ah: f64,
    /// Lower edge of its band.
    capacity_low_ah: f64,
    /// Upper edge.
    capacity_high_ah: f64,
    /// Net charge drawn since the bank was last full, Ah.
    drawn_since_full_ah: Option<f64>,
    /// Recent mean current that the outlook goes by, A.
    mean_current_a: Option<f64>,
    /// State of charge that is to be kept.
    reserve: f64,
    /// What follows from the recent mean current.
    #[serde(flatten)]
    outlook: OutlookView,
    /// What was learned of bank and sensor; `null` for a method that learns nothing.
    learned: Option<Vec<LearnedView>>,
    /// What corrected the reckoning last.
    last_fix: Option<FixView>,
    /// Whether a fix or a stated start is behind the reckoning.
    start_known: bool,
    /// Method of the reckoning.
    method: &'static str,
}

impl NowView {
    /// The view of the bank at `index`, whose latest is `state`.
    pub fn new(live: &Live, index: usize, state: &LiveBank) -> NowView {
        let bank = &live.banks[index];
        let reckoned = &state.reckoned;
        let device = live.main_device(&bank.name);
        let by_name = channels_by_name(device.map_or(&[][..], |d| &d.channels), state);
        let value = |name: &str| by_name.iter().find(|(n, _)| *n == name).and_then(|(_, v)| *v);
        let (voltage_v, current_a) = (value(Channel::VOLTAGE), value(Channel::CURRENT));
        let main = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE];
        let further = by_name.iter().filter(|(name, _)| !main.contains(name));
        let reading = state.reading.as_ref();
        let since = state.learned_since.map(|since| since.map(|when| live.time.utc_of(when)));
        NowView {
            bank: bank.name.clone(),
            time: reading.and_then(|r| rfc3339(live.time.utc(r.mono))),
            time_trusted: live.time.is_trusted(),
            age_s: reading.map(|r| live.clock.mono().seconds_since(r.mono).max(0.0)),
            store_trouble: (live.store)().trouble,
            device: device.map(|d| DeviceView::new(live, d)),
            voltage_v,
            current_a,
            power_w: voltage_v.zip(current_a).map(|(v, a)| v * a),
            temperature_c: value(Channel::TEMPERATURE),
            channels: further.map(|&(name, v)| (name.to_owned(), v)).collect(),
            soc: reckoned.soc,
            soc_low: reckoned.soc_band.low,
            soc_high: reckoned.soc_band.high,
            charge_ah: reckoned.soc * reckoned.capacity_ah,
            capacity_ah: reckoned.capacity_ah,
            capacity_low_ah: reckoned.capacity_band_ah.low,
            capacity_high_ah: reckoned.capacity_band_ah.high,
            drawn_since_full_ah: reckoned.drawn_since_full_ah,
            mean_current_a: reckoned.mean_current_a,
            reserve: bank.reserve,
            outlook: OutlookView::new(bank, reckoned),
            learned: reckoned.learned.map(|learned| learned_views(&learned, since)),
            last_fix: state.last_fix.as_ref().map(|(kind, when, text)| FixView {
                kind: kind.word(),
                time: rfc3339(live.time.utc_of(*when)),
                text: text.clone(),
            }),
            start_known: reckoned.start_known,
            method: state.method.word(),
        }
    }
}

fn channels_by_name<'a>(channels: &'a [Channel], state: &LiveBank) -> Vec<(&'a str, Option<f64>)> {
    let values = state.reading.as_ref().map(|reading| &reading.values[..]);
    channels
        .iter()
        .enumerate()
        .map(|(i, channel)| (channel.name(), values.and_then(|v| v.get(i).copied().flatten())))
        .collect()
}

impl DeviceView {
    fn new(live: &Live, device: &super::DeviceWatch) -> DeviceView {
        let status = device.status.borrow();
        DeviceView {
            name: device.name.clone(),
            state: state_word(status.state),
            reason: status.reason.clone(),
            quiet_s: status.quiet_for_s(live.clock.mono()),
        }
    }
}

/// The word for a port's state.
pub const fn state_word(state: PortState) -> &'static str {
    match state {
        PortState::Waiting => "waiting",
        PortState::Live => "live",
        PortState::Silent => "silent",
        PortState::Closed => "closed",
    }
}

/// Something worth telling.
#[derive(Debug, Clone, Serialize, ToSchema)]
pub struct EventView {
    /// When it happened last, RFC 3339; `null` if its boot never had a clock.
    pub time: Option<String>,
    /// When it happened first.
    pub first_time: Option<String>,
    /// The bank it concerns.
    pub bank: Option<String>,
    /// The device it concerns.
    pub device: Option<String>,
    /// What kind.
    pub kind: String,
    /// `alarm`, `warning`, `caution` or `note`.
    pub priority: String,
    /// For people.
    pub text: String,
    /// How often.
    pub count: i64,
}

impl EventView {
    /// A stored event.
    #[must_use]
    pub fn new(stored: StoredEvent) -> EventView {
        EventView {
            time: stored.last_utc.and_then(rfc3339),
            first_time: stored.first_utc.and_then(rfc3339),
            bank: stored.event.bank,
            device: stored.event.device,
            kind: stored.event.kind,
            priority: stored.event.priority,
            text: stored.event.text,
            count: stored.count,
        }
    }
}
