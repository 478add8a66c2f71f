//! The filter: counting, corrected by what the voltage says and by fixes, with a band that holds.
//!
//! An extended Kalman filter on the quantities of [`model::at`]: state of charge; the gap between the two wells, whose
//! available one stands for the surface of the plates or particles and so explains rate and recovery; the current sensor's
//! offset; capacity; charging losses; resistance; errors of resistance and voltage that stay for hours (a voltage error is
//! an error of the model and no white noise: taken as white it makes the filter sure and wrong); and a correction of the
//! preset's rest-voltage curve at knots from empty to full, with a shift of its knee, so that the curve is learned while
//! the count is sharp and the count is kept by the curve afterwards.
//!
//! The mean moves with each reading; the covariance moves, and the voltage is looked at, once a window of
//! [`window::WINDOW_S`]. Assumptions are listed in DEVELOPERS.md.

mod evidence;
mod fixes;
mod guard;
mod model;
mod state;
mod trail;
mod voltage;
mod watch;
mod ways;
mod window;

pub use trail::SmoothedKnot;
pub use ways::{Place, SmoothedWays, Ways};

use super::gaussian::Gaussian;
use super::terms::{BRIDGED_S, Bound, Fix, Learned, REFERENCE_C, Reckoned, Start, Suspicion, TimeOff};
use crate::battery::Bank;
use crate::quantity::{Band, Estimate, Reading, Z95};
use model::{Model, N, at};
use state::State;

/// The filter's distribution.
pub type Normal = Gaussian<N>;

/// Where nothing but the curve tells the charge, this many times as much of counting's doubt stays (assumed).
const UNKNOWN_SHARE: f64 = 3.0;
/// No estimate of charge is surer than this, 1 σ: what the definition of full leaves open (assumed).
const SUREST: f64 = 0.002;

/// The filter on one bank.
#[derive(Debug, Clone)]
pub struct Filter {
    bank: Bank,
    model: Model,
    state: State,
    /// Time and current of the reading before; `None` after a start or time off.
    last: Option<(f64, f64)>,
    suspicions: Vec<Suspicion>,
    ways: Option<Box<Ways>>,
}

impl Filter {
    /// A filter on a bank, with what is known of its charge.
    #[must_use]
    pub fn new(bank: Bank, start: Start) -> Filter {
        let Estimate { value: soc, std_dev } = start.estimate(bank.full.soc_std_dev);
        let model = Model::of(&bank);
        let mut normal = model.prior(&bank, std_dev);
        normal.mean[at::CHARGE] = soc;
        let state = State::begin(normal, start);
        Filter { bank, model, state, last: None, suspicions: Vec::new(), ways: None }
    }

    /// Whether a saved text is a filter's.
    #[must_use]
    pub fn is_saved_state(saved: &str) -> bool {
        State::is_saved(saved)
    }

    /// A filter from a saved state.
    ///
    /// # Errors
    /// If the text is no saved state.
    pub fn resume(bank: Bank, saved: &str) -> serde_json::Result<Filter> {
        let state = State::restore(saved)?;
        let model = Model::of(&bank);
        Ok(Filter { bank, model, state, last: None, suspicions: Vec::new(), ways: None })
    }

    /// The state as JSON text.
    #[must_use]
    pub fn save(&self) -> String {
        self.state.save()
    }

    /// The bank.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        &self.bank
    }

    /// Whether a charger holds the bank full since its last full fix.
    #[must_use]
    pub const fn held_full(&self) -> bool {
        self.state.memory.full.is_full()
    }

    /// See [`super::Reckoner::take_suspicion`].
    pub fn take_suspicion(&mut self) -> Option<Suspicion> {
        if self.suspicions.is_empty() { None } else { Some(self.suspicions.remove(0)) }
    }

    /// See [`super::Reckoner::run_on`].
    pub fn run_on(&mut self, off: TimeOff) {
        let hours = off.allowance_s().min(BRIDGED_S) / 3600.0;
        let size_a = self.state.current_a.abs().max(self.state.load.mean_a().unwrap_or(0.0).abs());
        self.allow_for(size_a * hours, hours);
    }

    /// See [`super::Reckoner::time_off`].
    pub fn time_off(&mut self, off: TimeOff) {
        let seconds = off.allowance_s();
        self.close_window();
        self.pass(seconds);
        self.allow_for(self.bank.standing_load_a * seconds / 3600.0, seconds / 3600.0);
        self.last = None;
        self.state.interrupt();
    }

    /// Charge that may have flowed unseen over some hours, Ah, either way: the band takes it in whole, and the gap between
    /// the wells with it.
    fn allow_for(&mut self, charge_ah: f64, hours: f64) {
        let std_dev = charge_ah / self.bank.rated_capacity_ah / Z95;
        let decay = self.model.relax_per_h(self.temperature_c()) * hours;
        let left = if decay > 0.0 { (1.0 - (-decay).exp()) / decay } else { 1.0 };
        let variance = std_dev * std_dev;
        let gap = -self.model.wells.gap_per_drawn() * left;
        self.state.normal.stir(&[(at::CHARGE, 1.0), (at::GAP, gap)], variance);
        self.state.counted.stir(&[(0, 1.0)], variance);
    }

    /// Takes the next reading; a fix that it brought is returned. A reading not later than the last is ignored.
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        if reading.temperature_c.is_some() {
            self.state.temperature_c = reading.temperature_c;
        }
        let Some((last_t_s, last_a)) = self.last else {
            self.state.current_a = reading.current_a;
            self.last = Some((reading.t_s, reading.current_a));
            return None;
        };
        let dt_s = reading.t_s - last_t_s;
        if dt_s <= 0.0 {
            return None;
        }
        let verdict = self.judge(dt_s, reading);
        let current_a = if verdict.current { reading.current_a } else { last_a };
        let fix = if dt_s <= BRIDGED_S {
            self.count(dt_s, last_a, current_a, reading, verdict.voltage);
            if self.state.window.seconds >= window::WINDOW_S {
                self.close_window();
            }
            self.look_for_fixes(dt_s, reading, verdict)
        } else {
            self.gap(dt_s, last_a, current_a);
            None
        };
        self.state.current_a = current_a;
        self.last = Some((reading.t_s, current_a));
        fix
    }

    /// Temperature to reckon with, °C.
    fn temperature_c(&self) -> f64 {
        self.state.temperature_c.unwrap_or(REFERENCE_C)
    }

    /// A gap too long to bridge: the load before or after may have run all the time, or the worst standing load.
    fn gap(&mut self, dt_s: f64, from_a: f64, to_a: f64) {
        let beyond_standing_a = (from_a.abs().max(to_a.abs()) - self.bank.standing_load_a).max(0.0);
        self.time_off(TimeOff::Known { seconds: dt_s });
        self.allow_for(beyond_standing_a * dt_s / 3600.0, dt_s / 3600.0);
    }

    /// The state up to the last reading.
    #[must_use]
    pub fn report(&self) -> Reckoned {
        let normal = &self.state.normal;
        let rated_ah = self.bank.rated_capacity_ah;
        let soc = normal.mean[at::CHARGE].clamp(0.0, 1.0);
        let factor = normal.mean[at::CAPACITY].exp();
        let held_std_dev = normal.variance_of(&[(at::CHARGE, factor), (at::CAPACITY, factor * soc)]).max(0.0).sqrt();
        let capacity = Estimate { value: factor * rated_ah, std_dev: factor * rated_ah * normal.std_dev(at::CAPACITY) };
        let held = Estimate { value: soc * capacity.value, std_dev: held_std_dev.hypot(SUREST) * rated_ah };
        let soc_band = Estimate { value: soc, std_dev: self.charge_std_dev() }.band();
        Reckoned {
            soc,
            soc_band: soc_band.clamp(0.0, 1.0),
            held_ah: held.value,
            held_band_ah: held.band().clamp(0.0, held.band().high),
            capacity_ah: capacity.value,
            capacity_band_ah: log_band(capacity),
            drawn_since_full_ah: self.state.seen_full.then_some(self.state.drawn_ah),
            mean_current_a: self.state.load.mean_a(),
            temperature_c: self.state.temperature_c,
            start_known: self.state.start_known,
            bound: self.bound(capacity.value),
            learned: Some(self.learned(capacity)),
        }
    }

    /// 1 σ of the state of charge: of the filter, with the part of plain counting's doubt that no voltage takes away, and
    /// the unseen part of the present window.
    fn charge_std_dev(&self) -> f64 {
        let variance = self.state.normal.covariance[at::CHARGE][at::CHARGE];
        (variance + self.unlearnable_variance() + self.state.window.bridged).max(0.0).sqrt().hypot(SUREST)
    }

    /// The part of plain counting's variance that no voltage takes away.
    pub(super) fn unlearnable_variance(&self) -> f64 {
        let gained = self.state.counted.covariance[0][0] - self.state.normal.covariance[at::CHARGE][at::CHARGE];
        let share = if self.state.start_known { 1.0 } else { UNKNOWN_SHARE };
        share * self.model.voltage.unlearnable * gained.max(0.0)
    }

    fn bound(&self, capacity_ah: f64) -> Bound {
        let normal = &self.state.normal;
        Bound {
            charge_ah: normal.mean[at::GAP] * capacity_ah,
            std_dev_ah: normal.std_dev(at::GAP) * capacity_ah,
            relax_per_s: self.model.relax_per_h(self.temperature_c()) / 3600.0,
            below_ah: self.model.below * capacity_ah,
        }
    }

    fn learned(&self, capacity_ah: Estimate) -> Learned {
        let normal = &self.state.normal;
        let rated_ah = self.bank.rated_capacity_ah;
        let scaled = |place: usize, scale: f64| Estimate {
            value: normal.mean[place] * scale,
            std_dev: normal.std_dev(place) * scale.abs(),
        };
        let loss = scaled(at::LOSS, self.model.typical_loss());
        let ohm = self.model.resistance(REFERENCE_C) / rated_ah * self.model.cells * normal.mean[at::RESISTANCE].exp();
        let (lower, weight) = model::between_knots(normal.mean[at::CHARGE]);
        let here = [(at::SHAPE + lower, 1.0 - weight), (at::SHAPE + lower + 1, weight)];
        let shift_v: f64 = here.iter().map(|&(place, part)| normal.mean[place] * part).sum();
        Learned {
            capacity_ah,
            charge_efficiency: Estimate { value: (1.0 - loss.value).min(1.0), std_dev: loss.std_dev },
            sensor_offset_a: scaled(at::OFFSET, rated_ah),
            resistance_25_ohm: Estimate { value: ohm, std_dev: ohm * normal.std_dev(at::RESISTANCE) },
            ocv_shift_v: Estimate {
                value: shift_v * self.model.cells,
                std_dev: normal.variance_of(&here).max(0.0).sqrt() * self.model.cells,
            },
        }
    }
}

/// The band of a quantity whose logarithm is normal.
fn log_band(estimate: Estimate) -> Band {
    let ratio = (Z95 * estimate.std_dev / estimate.value).exp();
    Band { low: estimate.value / ratio, high: estimate.value * ratio }
}
