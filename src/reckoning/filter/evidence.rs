//! Counting, and what the voltage has to say of it.
//!
//! Constants that name no source are assumed.

use super::Filter;
use super::guard::Verdict;
use super::model::{RESISTANCE_COLOUR, RESISTANCE_COLOUR_S, at};
use super::voltage::{Conditions, expect};
use super::window::Window;
use crate::quantity::Reading;
use crate::reckoning::gaussian::{Element, Part, Update};
use crate::reckoning::load::LOAD_CHANGE_RATE;
use crate::reckoning::terms::{Suspicion, UNSEEN_AFTER_S};

/// Error of the gap's growth, in parts of it, and how long it stays, s: two wells are few for a plate (assumed).
const GAP_ERROR: f64 = 0.2;
const GAP_ERROR_S: f64 = 900.0;
/// Drifts over thirty days, 1 σ each (assumed): offset in parts of its prior, capacity, losses, resistance, knee, knots.
const DRIFT_S: f64 = 30.0 * 86_400.0;
const OFFSET_DRIFT: f64 = 0.3;
const CAPACITY_DRIFT: f64 = 0.01;
const LOSS_DRIFT: f64 = 0.2;
const RESISTANCE_DRIFT: f64 = 0.05;
const KNEE_DRIFT: f64 = 0.003;
const SHAPE_DRIFT_V: f64 = 0.002;
/// A surprise beyond this many σ is weighed as if it were this many: a window may be wrong, but none is ignored for good.
const SURPRISE: f64 = 3.0;
/// Surprise, in σ, and time that make a voltage astray.
const ASTRAY: f64 = 6.0;
const ASTRAY_S: f64 = 2.0 * 3600.0;
/// A charger's count may stand this high before the bank is full.
const CHARGED_AT_MOST: f64 = 1.2;
/// Time in which charging builds up its surface charge, s (assumed).
const SURFACE_RISE_S: f64 = 600.0;

impl Filter {
    /// What a reading is worth.
    pub(super) fn judge(&mut self, dt_s: f64, reading: &Reading) -> Verdict {
        let cell_v = reading.voltage_v / self.model.cells;
        let range = self.bank.plausible_voltage_v;
        let possible =
            (range.low..=range.high).contains(&reading.voltage_v) && cell_v > 0.5 * self.model.voltage.cut_off_v;
        let resistance = self.model.resistance(self.temperature_c());
        let rate = reading.current_a / self.model.rated_ah;
        let slope = self.model.voltage.ocv.at(self.state.normal.mean[at::CHARGE]).1;
        self.state.guard.look(dt_s, cell_v, possible, rate, resistance, slope)
    }

    /// Counts an interval between two readings, A at both ends; the mean moves, the window gathers.
    pub(super) fn count(&mut self, dt_s: f64, from_a: f64, to_a: f64, reading: &Reading, voltage_good: bool) {
        let hours = dt_s / 3600.0;
        let rated_ah = self.model.rated_ah;
        let cell_v = reading.voltage_v / self.model.cells;
        let measured = f64::midpoint(from_a, to_a) / rated_ah;
        let temperature_c = self.temperature_c();
        let x = &mut self.state.normal.mean;
        let rate = measured - x[at::OFFSET];
        let per_capacity = hours / x[at::CAPACITY].exp();
        let gas = if voltage_good && rate > 0.0 {
            self.model.voltage.gassing.map_or(0.0, |gassing| gassing.rate(cell_v, temperature_c)).min(rate)
        } else {
            0.0
        };
        let lost_rate = self.model.voltage.bulk_loss * rate.max(0.0) + gas;
        let lost = lost_rate * per_capacity;
        let moved = rate * per_capacity - x[at::LOSS] * lost;
        let decay = (-self.model.relax_per_h(temperature_c) * hours).exp();
        let driven = -moved * self.model.wells.gap_per_drawn();
        let leak = self.model.self_discharge_per_h * hours;
        x[at::CHARGE] += moved - leak;
        self.state.counted.mean[0] += count_alone(&self.state.counted.mean, measured, lost_rate, hours) - leak;
        let x = &mut self.state.normal.mean;
        // What is driven in the middle of the interval has decayed by half of it.
        x[at::GAP] = x[at::GAP] * decay + driven * decay.sqrt();
        let window = &mut self.state.window;
        window.seconds += dt_s;
        window.offset_h += per_capacity;
        window.moved += moved;
        window.lost += lost;
        window.driven = window.driven * decay + driven;
        window.driven_size += driven.abs();
        window.decay *= decay;
        if dt_s > UNSEEN_AFTER_S {
            window.bridged += ((from_a - to_a) / 2.0 / rated_ah * hours).powi(2);
        }
        if voltage_good {
            window.voltage_s += dt_s;
            window.cell_v_s += cell_v * dt_s;
            // The voltage belongs to the end of the interval.
            window.rate_s += to_a / rated_ah * dt_s;
        }
        self.remember(dt_s, rate, moved, measured * rated_ah);
    }

    fn remember(&mut self, dt_s: f64, rate: f64, moved: f64, measured_a: f64) {
        let voltage = &self.model.voltage;
        self.state.memory.drawn_ah -= moved * self.model.rated_ah * self.state.normal.mean[at::CAPACITY].exp();
        let (goal, seconds) = if rate > 0.01 {
            (1.0, SURFACE_RISE_S)
        } else {
            // A load of the 10 h rate takes the surface charge away ten times as fast as a rest.
            (0.0, voltage.surface_s / (1.0 + (-rate).max(0.0) * 90.0))
        };
        let memory = &mut self.state.memory;
        memory.surface += (goal - memory.surface) * (1.0 - (-dt_s / seconds).exp());
        memory.load.add(dt_s, measured_a, LOAD_CHANGE_RATE * self.model.rated_ah);
    }

    /// Moves the covariance over the window and takes its voltage.
    pub(super) fn close_window(&mut self) {
        let window = std::mem::replace(&mut self.state.window, Window::open());
        if window.seconds <= 0.0 {
            return;
        }
        let grown = self.model.wells.gap_per_drawn();
        let elements: [Element; 7] = [
            (at::CHARGE, at::OFFSET, -window.offset_h),
            (at::CHARGE, at::CAPACITY, -window.moved),
            (at::CHARGE, at::LOSS, -window.lost),
            (at::GAP, at::OFFSET, grown * window.offset_h),
            (at::GAP, at::CAPACITY, grown * window.moved),
            (at::GAP, at::LOSS, grown * window.lost),
            (at::GAP, at::GAP, window.decay - 1.0),
        ];
        let share = (GAP_ERROR_S / window.seconds).max(1.0);
        let noise = [(at::CHARGE, window.bridged), (at::GAP, (GAP_ERROR * window.driven_size).powi(2) * share)];
        self.spread(&elements, &noise);
        self.drift(window.seconds);
        self.keep_in_range();
        self.look_at_voltage(&window);
        self.keep_in_range();
        self.pass_ways(window.seconds);
    }

    /// Time passes without a reading: what comes and goes has gone, what drifts has drifted, charge leaks.
    pub(super) fn pass(&mut self, seconds: f64) {
        let hours = seconds / 3600.0;
        self.state.normal.mean[at::CHARGE] -= self.model.self_discharge_per_h * hours;
        self.state.counted.mean[0] -= self.model.self_discharge_per_h * hours;
        let decay = (-self.model.relax_per_h(self.temperature_c()) * hours).exp();
        self.state.normal.mean[at::GAP] *= decay;
        self.spread(&[(at::GAP, at::GAP, decay - 1.0)], &[]);
        self.drift(seconds);
        self.keep_in_range();
        self.state.memory.surface *= (-seconds / self.model.voltage.surface_s).exp();
        self.pass_ways(seconds);
    }

    /// Coloured errors decay towards nothing and are stirred anew; what is learned slowly loses its sharpness.
    fn drift(&mut self, seconds: f64) {
        let colours = [
            (at::RESISTANCE_COLOUR, RESISTANCE_COLOUR, RESISTANCE_COLOUR_S),
            (at::VOLTAGE_COLOUR, self.model.voltage.colour_v, self.model.voltage.colour_s),
        ];
        let mut elements: [Element; 2] = [(0, 0, 0.0); 2];
        let part = seconds / DRIFT_S;
        let offset = OFFSET_DRIFT * self.bank.sensor.offset_a / self.model.rated_ah;
        let mut noise: Vec<Part> = vec![
            (at::OFFSET, offset * offset * part),
            (at::CAPACITY, CAPACITY_DRIFT * CAPACITY_DRIFT * part),
            (at::LOSS, LOSS_DRIFT * LOSS_DRIFT * part),
            (at::RESISTANCE, RESISTANCE_DRIFT * RESISTANCE_DRIFT * part),
            (at::KNEE, KNEE_DRIFT * KNEE_DRIFT * part),
        ];
        noise.extend((at::SHAPE..super::N).map(|place| (place, SHAPE_DRIFT_V * SHAPE_DRIFT_V * part)));
        for (element, (place, std_dev, lasts_s)) in elements.iter_mut().zip(colours) {
            let decay = (-seconds / lasts_s).exp();
            self.state.normal.mean[place] *= decay;
            *element = (place, place, decay - 1.0);
            noise.push((place, std_dev * std_dev * (1.0 - decay * decay)));
        }
        self.spread(&elements, &noise);
    }

    fn surface_soc(&self) -> f64 {
        self.state.normal.mean[at::CHARGE] - self.state.normal.mean[at::GAP]
    }

    fn look_at_voltage(&mut self, window: &Window) {
        let Some((cell_v, rate)) = window.means() else { return };
        if window.voltage_s < 0.5 * window.seconds
            || cell_v > self.model.voltage.finishing_v
            || self.surface_soc() > self.model.voltage.readable_below
        {
            return;
        }
        let conditions = Conditions {
            rate,
            temperature_c: self.temperature_c(),
            surface: self.state.surface,
            seconds: window.seconds,
        };
        let expected = expect(&self.model, &self.state.normal, conditions);
        let innovation = cell_v - expected.cell_v;
        let variance = self.state.normal.variance_of(&expected.row) + expected.noise_v2;
        let surprise = innovation * innovation / variance;
        let excess = (innovation * innovation / (SURPRISE * SURPRISE) - variance).max(0.0);
        self.update(&expected.row, innovation, expected.noise_v2 + excess);
        self.state.memory.astray_s =
            if surprise > ASTRAY * ASTRAY { self.state.astray_s + window.seconds } else { 0.0 };
        if self.state.astray_s > ASTRAY_S {
            self.suspect(Suspicion::VoltageAstray);
        }
    }

    /// A count above full while a charger works is settled by the full fix, which learns from it. Otherwise a count beyond
    /// full or empty says that something behind it is wrong: the mean goes back to the edge and takes along
    /// what moves with it; nobody becomes surer.
    fn keep_in_range(&mut self) {
        let charge = self.state.normal.mean[at::CHARGE];
        let most = if self.state.load.latest_a() > 0.0 { CHARGED_AT_MOST } else { 1.0 };
        let beyond = charge - charge.clamp(0.0, most);
        let variance = self.state.normal.covariance[at::CHARGE][at::CHARGE];
        if beyond.abs() <= f64::EPSILON || variance <= 0.0 {
            return;
        }
        let gain = self.state.normal.with(&[(at::CHARGE, 1.0)]).map(|c| c / variance);
        let known = self.state.start_known;
        for (place, (mean, gain)) in self.state.normal.mean.iter_mut().zip(gain).enumerate() {
            if known || !at::is_learned(place) {
                *mean -= gain * beyond;
            }
        }
        if let Some(ways) = &mut self.ways {
            ways.filter.shift(&[(at::CHARGE, 1.0)], variance, -beyond);
        }
    }

    /// See [`crate::reckoning::gaussian::Gaussian::spread`]; the ways follow.
    pub(super) fn spread(&mut self, elements: &[Element], noise: &[Part]) {
        self.state.normal.spread(elements, noise);
        let counted = self.state.spread_counted(elements, noise);
        if let Some(ways) = &mut self.ways {
            ways.filter.spread(elements);
            ways.counted.spread(&counted);
        }
    }

    /// See [`crate::reckoning::gaussian::Gaussian::update`]; the ways follow.
    pub(super) fn update(&mut self, row: &[Part], innovation: f64, noise: f64) -> Update<{ super::N }> {
        // While the charge is hardly known a straight line is a poor guide from it to what is learned with it.
        let known = self.state.start_known;
        let update = self.state.normal.update_but(row, innovation, noise, |place| !known && at::is_learned(place));
        if let Some(ways) = &mut self.ways {
            ways.filter.update(row, &update);
        }
        update
    }
}

/// Charge moved in some hours by counting alone, in parts of the capacity: `counted` is (charge, offset, logarithm of the
/// capacity, losses), `measured` the rate that the sensor reads, `lost_rate` the preset's losses.
fn count_alone(counted: &[f64; 4], measured: f64, lost_rate: f64, hours: f64) -> f64 {
    let [_, offset, capacity, loss] = *counted;
    (measured - offset - loss * lost_rate) * hours / capacity.exp()
}
