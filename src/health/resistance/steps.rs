//! The watch: finds steps in the readings, and closes days.

use serde::{Deserialize, Serialize};

use super::day::{Day, Step};
use super::hold::{Held, Hold};
use super::rise::Rise;
use super::trace::{Level, Trace};
use super::{APART_MS, SECOND_MS, SETTLED_MS, STEP_RATE, WANDER};
use crate::health::record::Reach;
use crate::health::watch::{Aboard, Out};
use crate::quantity::{Minute, Moment, Reading};

/// Steps kept between two minutes; a boat that switches more often than this has enough of them.
const FRESH_MOST: usize = 40;
/// A current that charges the bank by more than this, A per Ah, is a charger's (assumed).
const CHARGING_RATE: f64 = 0.01;
/// A current that wanders by less than this stands still, A per Ah: a tenth of the smallest step.
const STILL_RATE: f64 = WANDER * STEP_RATE;
/// What the stand before a step and the two readings of its current leave in doubt, in parts of it (assumed).
const MODEL_ERROR: f64 = 0.02;
/// Resolution of a voltage where no two different ones have been seen yet, V (assumed).
const GRAIN_V: f64 = 0.01;
/// Steps that are less sure than this are dropped, in parts of what the preset makes of the resistance. What was read plays
/// no part in it: a low reading is as welcome as a high one.
const WORST: f64 = 0.25;

/// Watches for load steps.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Steps {
    trace: Trace,
    /// Current that has stood still, A, and since when, ms.
    still_a: f64,
    still_since_ms: i64,
    edge: Option<Edge>,
    hold: Option<Hold>,
    grain_v: Option<f64>,
    monobloc_grain_v: Option<f64>,
    fresh: Vec<Step>,
    day: Option<Day>,
    rise: Rise,
}

/// A step whose end is waited for.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Edge {
    before: Level,
    settled: bool,
}

impl Steps {
    /// A watch that has seen nothing.
    #[must_use]
    pub fn new(_aboard: &Aboard<'_>) -> Steps {
        Steps {
            trace: Trace::default(),
            still_a: 0.0,
            still_since_ms: 0,
            edge: None,
            hold: None,
            grain_v: None,
            monobloc_grain_v: None,
            fresh: Vec::new(),
            day: None,
            rise: Rise::default(),
        }
    }

    /// Takes a reading with the voltages of the monoblocs, NaN where there is none. To be called with each sample.
    pub fn reading(&mut self, aboard: &Aboard<'_>, at: Moment, reading: &Reading, monobloc_v: &[f64]) {
        if !(reading.voltage_v.is_finite() && reading.current_a.is_finite()) {
            return;
        }
        let rated_ah = aboard.bank.rated_capacity_ah;
        if !self.trace.push(at, reading, monobloc_v, APART_MS) {
            self.edge = None;
            self.hold = None;
            self.stands(reading.current_a, at.mono.0);
            return;
        }
        if self.edge.is_none() && self.hold.is_none() {
            let moved_a = (reading.current_a - self.trace.ago(1).current_a).abs();
            if moved_a <= STEP_RATE * rated_ah {
                if (reading.current_a - self.still_a).abs() > STILL_RATE * rated_ah {
                    self.stands(reading.current_a, at.mono.0);
                }
                return;
            }
        }
        self.look(aboard);
    }

    const fn stands(&mut self, current_a: f64, since_ms: i64) {
        self.still_a = current_a;
        self.still_since_ms = since_ms;
    }

    /// Something has moved, or is waited for.
    fn look(&mut self, aboard: &Aboard<'_>) {
        let last = *self.trace.ago(0);
        if let Some(hold) = &mut self.hold {
            match hold.look(&last, self.trace.monobloc_ago(0)) {
                Held::On => return,
                Held::Broken => self.hold = None,
                Held::Done(voltage_v, current_a, monobloc_v, readings) => {
                    let before = self.hold.take().expect("it was looked at just now").before;
                    self.take(aboard, Reach::Minute, &before, (voltage_v, current_a), &monobloc_v, readings);
                }
            }
        }
        match self.edge.take() {
            Some(edge) => self.settle(aboard, edge),
            None if (last.current_a - self.trace.ago(1).current_a).abs()
                > STEP_RATE * aboard.bank.rated_capacity_ah =>
            {
                self.begin();
            }
            None => self.stands(last.current_a, last.mono_ms),
        }
    }

    /// The current has just moved.
    fn begin(&mut self) {
        let last = *self.trace.ago(0);
        let settled = self.trace.ago(1).mono_ms - self.still_since_ms >= SETTLED_MS;
        self.edge = self.trace.level_before(APART_MS).map(|before| Edge { before, settled });
        self.stands(last.current_a, last.mono_ms);
    }

    /// Is the step over, and does the current stand still again?
    fn settle(&mut self, aboard: &Aboard<'_>, edge: Edge) {
        let (last, end) = (*self.trace.ago(0), *self.trace.ago(1));
        let step_a = end.current_a - edge.before.current_a;
        let still = (last.current_a - end.current_a).abs() <= WANDER * step_a.abs();
        let waited_ms = end.mono_ms - edge.before.last_ms;
        if !still {
            if waited_ms <= APART_MS {
                self.edge = Some(edge);
            }
            self.stands(last.current_a, last.mono_ms);
            return;
        }
        self.stands(end.current_a, end.mono_ms);
        let rated_ah = aboard.bank.rated_capacity_ah;
        let before = edge.before;
        let load_only = before.current_a.max(end.current_a) <= CHARGING_RATE * rated_ah;
        if step_a.abs() < STEP_RATE * rated_ah || before.wander_a > WANDER * step_a.abs() || !load_only {
            return;
        }
        if waited_ms <= SECOND_MS {
            let monobloc_v = self.trace.monobloc_ago(1).to_vec();
            self.take(aboard, Reach::Second, &before, (end.voltage_v, end.current_a), &monobloc_v, 1);
        }
        if edge.settled {
            self.hold = Some(Hold::new(before, end.current_a));
        }
    }

    /// A step is complete.
    fn take(
        &mut self,
        aboard: &Aboard<'_>,
        reach: Reach,
        before: &Level,
        (voltage_v, current_a): (f64, f64),
        monobloc_v: &[f64],
        readings: usize,
    ) {
        if self.fresh.len() >= FRESH_MOST {
            return;
        }
        let bank = aboard.bank;
        let step_a = current_a - before.current_a;
        let expected_ohm =
            bank.preset().voltage.resistance_ohm_ah * f64::from(bank.cells_in_series) / bank.rated_capacity_ah;
        let grain_v = finer(&mut self.grain_v, voltage_v - before.voltage_v, before.noise_v);
        let means = 1.0 / (before.readings as f64) + 1.0 / (readings as f64);
        let error = |noise_v: f64, grain_v: f64, ohm: f64| {
            let of_voltage = (noise_v * noise_v * means + grain_v * grain_v / 6.0) / (step_a * step_a);
            let of_current =
                ohm * ohm * (before.noise_a * before.noise_a * means / (step_a * step_a) + MODEL_ERROR * MODEL_ERROR);
            (of_voltage + of_current).sqrt()
        };
        let std_dev = error(before.noise_v, grain_v, expected_ohm);
        if std_dev > WORST * expected_ohm {
            return;
        }
        let of_one = expected_ohm / (monobloc_v.len().max(1) as f64);
        let moved = monobloc_v.iter().zip(&before.monobloc_v).map(|(after, before)| after - before);
        let least = moved.clone().filter(|v| v.is_finite()).fold(0.0, |a: f64, v| a.max(v.abs()));
        let monobloc_grain_v = finer(&mut self.monobloc_grain_v, least, before.monobloc_noise_v);
        self.fresh.push(Step {
            reach,
            ohm: (voltage_v - before.voltage_v) / step_a,
            std_dev,
            monobloc_ohm: moved.map(|v| Some(v / step_a).filter(|ohm| ohm.is_finite())).collect(),
            monobloc_std_dev: error(before.monobloc_noise_v, monobloc_grain_v, of_one),
            temperature_c: self.trace.ago(0).temperature_c,
        });
    }

    /// Takes the minute that holds the readings since the one before; closes the day with the first minute of the next.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, out: &mut Out) {
        if let Some(day) = Day::closed_by(&mut self.day, minute) {
            let found = day.results(aboard);
            self.rise.look(aboard, &found, minute.at, out);
            out.findings.extend(found.into_iter().map(crate::health::record::Finding::Resistance));
        }
        let day = self.day.get_or_insert_with(|| Day::new(minute.at));
        for step in self.fresh.drain(..) {
            day.take(aboard, step, minute);
        }
    }
}

/// The resolution of a voltage, V: the smallest difference seen so far.
fn finer(known_v: &mut Option<f64>, moved_v: f64, noise_v: f64) -> f64 {
    for seen in [moved_v.abs(), noise_v] {
        if seen > 1e-6 {
            *known_v = Some(known_v.map_or(seen, |known| known.min(seen)).min(GRAIN_V));
        }
    }
    known_v.unwrap_or(GRAIN_V)
}
