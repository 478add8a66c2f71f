//! Rests: what the voltage of a bank left alone says of its charge, whatever was counted before.

use serde::{Deserialize, Serialize};

use super::evidence::{OnCurve, RestEnd};
use crate::battery::{Bank, Family};
use crate::quantity::Minute;
use crate::reckoning::REST_RATE;

/// What readings of a rest, whose mean is at most [`REST_RATE`], may come to in between, A per Ah: a pump, a compressor
/// (assumed).
const REST_RATE_AT_MOST: f64 = 0.05;
/// A current that is read while nothing flows, in σ of the sensor's offset.
const OFFSET_AT_MOST: f64 = 3.0;
/// How long a rest must last, s. Lead: "at least 8 hrs" (read: rvsystems.net) with the current off; 6 h here, what is left
/// of the surface charge then is in the doubt. Lithium: assumed.
const LEAD_REST_S: f64 = 6.0 * 3600.0;
const LITHIUM_REST_S: f64 = 2.0 * 3600.0;
/// A rest that lasts is taken once a day, s.
const AGAIN_S: f64 = 24.0 * 3600.0;
/// Length of the mean that is taken, s.
const WINDOW_S: f64 = 1800.0;
/// What the voltage model is still wrong by after a rest, in parts of its usual error (assumed, as the fixes: half).
const RESTED: f64 = 0.5;
/// How much longer the lift of a charge stays where nothing is drawn after it ("surface charge may need 6 h and more", a trade
/// forum at lists.ettus.com; "preferably 24 h", rvsystems.net): after 6 h a third is left, after 24 h next to nothing.
const LIFTED_STAYS: f64 = 4.0;
/// Doubt of the resistance that carries what current there is, ratio (assumed).
const RESISTANCE_DOUBT: f64 = 0.5;
/// Change of a rest voltage with temperature, V a cell and kelvin (from memory: 0.2 mV for lead, less for lithium).
const PER_KELVIN_V: f64 = 0.000_3;

/// Sums over a stretch of rest.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
struct Sums {
    seconds: f64,
    volt_s: f64,
    amp_s: f64,
}

impl Sums {
    fn voltage_v(&self) -> f64 {
        self.volt_s / self.seconds
    }

    fn current_a(&self) -> f64 {
        self.amp_s / self.seconds
    }
}

/// Watches for rests, minute by minute.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct RestWatch {
    seconds: f64,
    /// The last stretch, and the one before it.
    late: Sums,
    earlier: Sums,
    temperature_c: Option<f64>,
    /// The bank was charged before: what that lifted leaves more slowly by itself than under a load.
    lifted: bool,
}

/// What a rest says.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Rest {
    /// Rest voltage, V a cell.
    pub cell_v: f64,
    /// 1 σ of it beside what the curve is wrong by, V a cell.
    pub noise_v: f64,
    /// State of charge by the preset's curve.
    pub soc: f64,
    /// Charge drawn since the middle of the mean, parts of the rated capacity.
    pub since: f64,
}

impl RestWatch {
    /// Takes a minute. A rest that is long enough is told when it ends, just before the minute that ended it, and once a
    /// day while it lasts.
    pub fn minute(&mut self, bank: &Bank, minute: &Minute) -> Option<Rest> {
        let (Some(voltage), Some(current)) = (minute.voltage_v, minute.current_a) else { return self.end(bank) };
        if !quiet(bank, minute) {
            let rest = self.end(bank);
            self.lifted = current.mean > 0.0;
            return rest;
        }
        let told = if self.seconds >= AGAIN_S { self.end(bank) } else { None };
        if self.late.seconds >= WINDOW_S {
            self.earlier = std::mem::take(&mut self.late);
        }
        let seconds = minute.covered_s;
        self.seconds += seconds;
        self.late.seconds += seconds;
        self.late.volt_s += voltage.mean * seconds;
        self.late.amp_s += current.mean * seconds;
        self.temperature_c = minute.temperature_c.or(self.temperature_c);
        told
    }

    /// Ends the rest: nobody watched, or somebody uses the bank.
    pub fn end(&mut self, bank: &Bank) -> Option<Rest> {
        let rest = std::mem::replace(self, RestWatch { lifted: self.lifted, ..RestWatch::default() });
        let enough_s = match bank.chemistry.family() {
            Family::Lead => LEAD_REST_S,
            Family::Lithium => LITHIUM_REST_S,
        };
        if rest.seconds < enough_s || rest.earlier.seconds <= 0.0 { None } else { rest.read(bank) }
    }

    fn read(&self, bank: &Bank) -> Option<Rest> {
        let voltage = &bank.preset().voltage;
        let (rated_ah, cells) = (bank.rated_capacity_ah, f64::from(bank.cells_in_series));
        let late = if self.late.seconds >= WINDOW_S / 3.0 {
            self.late
        } else {
            Sums {
                seconds: self.late.seconds + self.earlier.seconds,
                volt_s: self.late.volt_s + self.earlier.volt_s,
                amp_s: self.late.amp_s + self.earlier.amp_s,
            }
        };
        let rate = late.current_a() / rated_ah;
        let drop_v = rate * voltage.resistance_ohm_ah;
        let cell_v = late.voltage_v() / cells - drop_v;
        // A charger that holds its voltage leaves no rest to be read.
        if late.voltage_v() / cells >= voltage.float_v {
            return None;
        }
        let OnCurve { soc, slope_v, .. } = OnCurve::find(bank, cell_v, 0.0, |_| 0.0);
        if !(-0.05..voltage.readable_below.min(1.0)).contains(&soc) {
            return None;
        }
        // What still moves within half an hour, beyond what is drawn, goes on for some time.
        let still_v = if self.late.seconds >= WINDOW_S / 3.0 {
            let apart_h = f64::midpoint(self.late.seconds, self.earlier.seconds) / 3600.0;
            let moved_v = (self.late.voltage_v() - self.earlier.voltage_v()) / cells - slope_v * rate * apart_h;
            moved_v * voltage.surface_s / WINDOW_S
        } else {
            0.0
        };
        let off_c = self.temperature_c.map_or(10.0, |c| c - 25.0);
        let surface_s = voltage.surface_s * if self.lifted { LIFTED_STAYS } else { 1.0 };
        let noise_v = [
            RESTED * voltage.colour_v,
            voltage.surface_v * (-self.seconds / surface_s).exp(),
            still_v,
            RESISTANCE_DOUBT * drop_v,
            PER_KELVIN_V * off_c,
        ]
        .into_iter()
        .fold(0.0, f64::hypot);
        let since = -rate * (late.seconds / 2.0) / 3600.0;
        Some(Rest { cell_v, noise_v, soc, since })
    }
}

impl Rest {
    /// As the end of a finding, with its sign.
    #[must_use]
    pub fn end(&self, sign: f64) -> RestEnd {
        RestEnd { sign, cell_v: self.cell_v, noise_v: self.noise_v }
    }
}

/// A gentle load is rest, a charge is none: it holds the voltage up.
fn quiet(bank: &Bank, minute: &Minute) -> bool {
    let rated_ah = bank.rated_capacity_ah;
    minute.current_a.is_some_and(|current| {
        let most = current.max.value.max(-current.min.value);
        (-REST_RATE * rated_ah..=OFFSET_AT_MOST * bank.sensor.offset_a).contains(&current.mean)
            && most <= REST_RATE_AT_MOST * rated_ah
    })
}
