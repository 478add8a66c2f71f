//! Fixes: full, empty, rest, and by hand; and what readings contradict.
//!
//! Constants that name no source are assumed.

use super::Filter;
use super::guard::Verdict;
use super::model::{CAPACITY_STD_DEV, at};
use crate::battery::Family;
use crate::quantity::Reading;
use crate::reckoning::full_watch::Fullness;
use crate::reckoning::gaussian::Part;
use crate::reckoning::terms::{Fix, FixKind, Suspicion, ZeroRefused};

/// Below this state of charge a bank that was full is so no more.
const TOPPED: f64 = 0.985;
/// Discharge that float bears beside it, in parts of the tail current (as the full rule).
const FLOAT_SAG: f64 = 0.1;
/// Doubt of an empty fix: of the cut-off itself, of the gap, in parts of it, and of the voltage that a hard load drops
/// beside the gap, for each A per Ah (assumed).
const EMPTY_STD_DEV: f64 = 0.03;
const EMPTY_GAP_DOUBT: f64 = 0.35;
const EMPTY_RATE_DOUBT: f64 = 0.06;
/// A load that, carried from full to the cut-off, would leave so much more charge behind than the load so far has, in parts
/// of the capacity, came suddenly: what it meets the cut-off by is its own drop, and says next to nothing of the charge
/// (assumed).
const SUDDEN: f64 = 0.10;
/// A rest that counts, s: lead needs hours (read: 8 h, better 24 h, for a surface charge to leave; the filter allows for
/// the rest of it), lithium fewer (assumed).
const LEAD_REST_S: f64 = 6.0 * 3600.0;
const LITHIUM_REST_S: f64 = 2.0 * 3600.0;
/// What the voltage model is still wrong by after such a rest, in parts of its usual error (assumed: half).
const RESTED: f64 = 0.5;
/// A rest that narrows the charge by less than this ratio is no fix.
const REST_GAIN: f64 = 0.85;
/// A capacity this many σ of the description away from it speaks against the description.
const FAR_FOR_DESCRIPTION: f64 = 2.0;
/// So much doubt at the most comes of that, 1 σ, ratio (assumed: thrice the description's). Without an end to it every charge
/// that moves the capacity would make the next one move it further.
const DOUBTED_STD_DEV: f64 = 3.0 * CAPACITY_STD_DEV;
/// Capacities outside this, in parts of the rating, are called out.
const FAR_OFF: (f64, f64) = (0.7, 1.4);
/// A voltage under a load gentler than this, A per Ah, and with a gap smaller than this, that belongs to so much less
/// charge than the description leaves, beyond what curves differ by, V a cell, for so long, s, speaks against the capacity.
const QUIET_RATE: f64 = 0.1;
const QUIET_GAP: f64 = 0.06;
const FAR_BELOW: f64 = 0.35;
const CURVE_DOUBT_V: f64 = 0.03;
const LOW_S: f64 = 600.0;
/// Part of the capacity that has been drawn when the voltage of a nearly empty bank shows (assumed).
const DRAWN_WHEN_LOW: f64 = 0.85;
/// Stillness of a voltage after this long without is told anew, s.
const STUCK_APART_S: f64 = 6.0 * 3600.0;
/// A fix that lies further away than this many σ finds something wrong that no learned quantity is to blame for.
const CONTRADICTION: f64 = 3.0;
/// 1 σ of the logarithm of a capacity that a whole discharge has shown to be far from the description (assumed).
const FOUND_STD_DEV: f64 = 0.1;
/// 1 σ of a zero set by hand, in parts of the offset's prior (assumed).
const ZERO_DOUBT: f64 = 0.1;
/// Greatest offset that is believed, in parts of its prior (assumed).
const ZERO_AT_MOST: f64 = 10.0;

impl Filter {
    /// Looks whether a reading brings a fix.
    pub(super) fn look_for_fixes(&mut self, dt_s: f64, reading: &Reading, verdict: Verdict) -> Option<Fix> {
        self.look_for_stuck_voltage(dt_s);
        if self.state.guard.is_reversed() {
            self.suspect(Suspicion::SensorReversed);
        }
        self.look_for_far_off_capacity();
        if !verdict.voltage || !verdict.current {
            return None;
        }
        let rate = reading.current_a / self.model.rated_ah;
        self.look_for_low_voltage(dt_s, reading.voltage_v / self.model.cells, rate);
        let at_cut_off =
            reading.voltage_v <= self.model.voltage.cut_off_v * self.model.cells && self.beyond_gap(rate) <= SUDDEN;
        if let Some(fix) = self.look_for_full(dt_s, reading) {
            return Some(fix);
        }
        if self.state.cut_off.look(dt_s, at_cut_off, rate) {
            return Some(self.empty_fix());
        }
        let enough_s = match self.bank.chemistry.family() {
            Family::Lead => LEAD_REST_S,
            Family::Lithium => LITHIUM_REST_S,
        };
        if self.state.rest.look(dt_s, rate, enough_s) { self.rest_fix() } else { None }
    }

    /// A voltage that is stuck now and then is told once.
    fn look_for_stuck_voltage(&mut self, dt_s: f64) {
        if self.state.guard.is_stuck() {
            self.state.unstuck_s = 0.0;
            self.suspect(Suspicion::VoltageStuck);
            return;
        }
        self.state.unstuck_s += dt_s;
        if self.state.unstuck_s > STUCK_APART_S {
            self.state.told &= !bit_of(Suspicion::VoltageStuck);
        }
    }

    /// A gentle load, no hard one lately, and a voltage that belongs to far less charge than is left by the description:
    /// whatever the curve's errors, the capacity cannot be what is described.
    fn look_for_low_voltage(&mut self, dt_s: f64, cell_v: f64, rate: f64) {
        let quiet = (-QUIET_RATE..=0.0).contains(&rate) && self.state.normal.mean[at::GAP].abs() < QUIET_GAP;
        let left = 1.0 - self.state.drawn_ah / self.model.rated_ah;
        let resting_v = cell_v - rate * self.model.resistance(self.temperature_c());
        let should_v = self.model.voltage.ocv.at((left - FAR_BELOW).max(0.0)).0 - CURVE_DOUBT_V;
        if !self.state.unbroken || !quiet || left < FAR_BELOW + 0.1 || resting_v > should_v {
            self.state.low_s = 0.0;
            return;
        }
        self.state.low_s += dt_s;
        if self.state.low_s > LOW_S {
            let drawn = self.state.drawn_ah / self.model.rated_ah;
            self.state.low_s = 0.0;
            self.capacity_is_far_off(drawn / DRAWN_WHEN_LOW);
        }
    }

    fn look_for_full(&mut self, dt_s: f64, reading: &Reading) -> Option<Fix> {
        let temperature_c = self.temperature_c();
        let rule = self.bank.full;
        let offset_a = self.state.normal.mean[at::OFFSET] * self.model.rated_ah;
        let current_a = reading.current_a - offset_a;
        match self.state.memory.full.look(&rule, dt_s, reading.voltage_v, current_a, temperature_c) {
            Fullness::No => {
                self.look_for_float(reading, current_a);
                None
            }
            Fullness::Reached => {
                let fix = self.fix(FixKind::Full, &[(at::CHARGE, 1.0)], 1.0, rule.soc_std_dev);
                self.doubt_description();
                self.state.seen_full = true;
                self.state.drawn_ah = 0.0;
                self.state.unbroken = true;
                self.state.topped = true;
                Some(fix)
            }
            Fullness::Kept => {
                self.keep_full(rule.soc_std_dev);
                None
            }
        }
    }

    /// A capacity that use has moved far from the description takes the description's word for less: the next discharge
    /// may move it further.
    fn doubt_description(&mut self) {
        let normal = &mut self.state.normal;
        let moved = normal.mean[at::CAPACITY].abs();
        let variance = &mut normal.covariance[at::CAPACITY][at::CAPACITY];
        if moved > FAR_FOR_DESCRIPTION * CAPACITY_STD_DEV {
            *variance = variance.max((moved / FAR_FOR_DESCRIPTION).min(DOUBTED_STD_DEV).powi(2));
        }
    }

    /// After a full charge a charger that holds its float voltage keeps the bank full, whatever trickles in.
    fn look_for_float(&mut self, reading: &Reading, current_a: f64) {
        self.state.topped = self.state.topped && self.state.normal.mean[at::CHARGE] > TOPPED;
        let rule = self.bank.full;
        let held = reading.voltage_v >= self.model.voltage.float_v * self.model.cells
            && (-FLOAT_SAG * rule.tail_current_a..=rule.tail_current_a).contains(&current_a);
        if self.state.topped && held {
            self.keep_full(rule.soc_std_dev);
        }
    }

    /// The charger holds the bank full: whatever else goes in is lost, so the charge is known anew and says nothing of the
    /// way it came.
    fn keep_full(&mut self, std_dev: f64) {
        self.state.drawn_ah = 0.0;
        self.state.unbroken = true;
        let normal = &mut self.state.normal;
        normal.mean[at::CHARGE] = 1.0;
        normal.forget(at::CHARGE, std_dev * std_dev);
        self.state.counted.mean[0] = 1.0;
        self.state.counted.forget(0, std_dev * std_dev);
        if let Some(ways) = &mut self.ways {
            ways.forget_charge();
        }
    }

    /// The available well is empty: the charge is what is bound. Says little after a hard run and much after a gentle one.
    fn empty_fix(&mut self) -> Fix {
        self.close_window();
        let gap = self.state.normal.mean[at::GAP];
        self.judge_whole_discharge(gap);
        let rate = -self.state.load.mean_a().unwrap_or(0.0) / self.model.rated_ah;
        let curve = self.bank.rate_curve.capacity_ratio_std_dev(rate.max(0.0));
        let std_dev = EMPTY_STD_DEV.hypot(EMPTY_GAP_DOUBT * gap).hypot(EMPTY_RATE_DOUBT * rate).hypot(curve);
        self.fix(FixKind::Empty, &[(at::CHARGE, 1.0), (at::GAP, -1.0)], -self.model.below, std_dev)
    }

    /// How much more charge a discharge at this rate (A per Ah, negative) leaves behind at the cut-off than the gap between
    /// the wells holds back now, in parts of the capacity.
    fn beyond_gap(&self, rate: f64) -> f64 {
        let left = 1.0 - self.bank.rate_curve.capacity_ratio((-rate).max(0.0));
        left - (self.state.normal.mean[at::GAP] - self.model.below)
    }

    /// From full to the cut-off: the charge drawn tells the capacity, and whether it is anywhere near the description.
    fn judge_whole_discharge(&mut self, gap: f64) {
        if !self.state.unbroken {
            return;
        }
        let left = (gap - self.model.below).clamp(0.0, 0.6);
        let ratio = self.state.drawn_ah / self.model.rated_ah / (1.0 - left);
        if ratio < FAR_OFF.0 {
            self.capacity_is_far_off(ratio);
        }
    }

    fn look_for_far_off_capacity(&mut self) {
        let drawn = self.state.drawn_ah / self.model.rated_ah;
        let told = self.state.told & bit_of(Suspicion::CapacityFarOff { ratio: drawn }) != 0;
        if self.state.unbroken && !told && drawn > FAR_OFF.1 - 0.1 {
            self.capacity_is_far_off(drawn + 0.1);
        }
    }

    fn capacity_is_far_off(&mut self, ratio: f64) {
        self.suspect(Suspicion::CapacityFarOff { ratio });
        let normal = &mut self.state.normal;
        let row: [Part; 1] = [(at::CAPACITY, 1.0)];
        let found = ratio.max(0.02).ln();
        let away = found - normal.mean[at::CAPACITY];
        normal.covariance[at::CAPACITY][at::CAPACITY] += away * away;
        self.update(&row, away, FOUND_STD_DEV * FOUND_STD_DEV);
    }

    /// A long rest: the voltage model's passing errors have passed, and where the curve is steep that tells the charge.
    fn rest_fix(&mut self) -> Option<Fix> {
        let noise = (RESTED * self.model.voltage.colour_v).powi(2);
        let covariance = &self.state.normal.covariance;
        let with = covariance[at::CHARGE][at::VOLTAGE_COLOUR];
        let gained = with * with / (covariance[at::VOLTAGE_COLOUR][at::VOLTAGE_COLOUR] + noise);
        let variance = covariance[at::CHARGE][at::CHARGE];
        if variance - gained > REST_GAIN * REST_GAIN * variance {
            return None;
        }
        self.state.rest.used();
        Some(self.fix(FixKind::Rest, &[(at::VOLTAGE_COLOUR, 1.0)], 0.0, noise.sqrt()))
    }

    /// See [`crate::reckoning::Reckoner::hand_fix`].
    pub fn hand_fix(&mut self, soc: f64, std_dev: f64) -> Fix {
        let fix = self.fix(FixKind::Hand, &[(at::CHARGE, 1.0)], soc, std_dev);
        if soc >= 1.0 {
            self.state.seen_full = true;
            self.state.drawn_ah = 0.0;
            self.state.unbroken = true;
        }
        fix
    }

    /// See [`crate::reckoning::Reckoner::hand_zero`].
    pub fn hand_zero(&mut self) -> Result<f64, ZeroRefused> {
        let reads_a = self.last.map(|(_, current_a)| current_a).ok_or(ZeroRefused::NoReading)?;
        let most_a = ZERO_AT_MOST * self.bank.sensor.offset_a;
        if reads_a.abs() > most_a {
            return Err(ZeroRefused::TooMuch { reads_a, most_a });
        }
        self.close_window();
        let zero = reads_a / self.model.rated_ah;
        let prior = self.bank.sensor.offset_a / self.model.rated_ah;
        let noise = (ZERO_DOUBT * prior).powi(2);
        let away = zero - self.state.normal.mean[at::OFFSET];
        // A zero far from what was learned is believed all the same: somebody looked.
        self.state.normal.covariance[at::OFFSET][at::OFFSET] += away * away;
        self.update(&[(at::OFFSET, 1.0)], away, noise);
        Ok(self.state.normal.mean[at::OFFSET] * self.model.rated_ah)
    }

    /// Takes independent knowledge: `row` of the state is `value`, to `std_dev`.
    fn fix(&mut self, kind: FixKind, row: &[Part], value: f64, std_dev: f64) -> Fix {
        self.close_window();
        self.tie_knots();
        let before = self.report();
        let expected: f64 = row.iter().map(|&(place, part)| part * self.state.normal.mean[place]).sum();
        let innovation = value - expected;
        let noise = std_dev * std_dev;
        let variance = self.state.normal.variance_of(row) + noise;
        let unexplained = innovation * innovation / (CONTRADICTION * CONTRADICTION) - variance;
        if unexplained > 0.0 && kind != FixKind::Rest {
            // What no learned quantity explains is put down to the charge alone.
            self.spread(&[], &[(at::CHARGE, unexplained)]);
        }
        self.update(row, innovation, noise);
        // A rest or a cut-off says as much as the curve and the wells are right; only full and a person's word stand alone.
        if matches!(kind, FixKind::Full | FixKind::Hand) {
            self.state.start_known = true;
            self.close_count(value, noise);
        }
        self.tie_knots();
        Fix { kind, before, after: self.report() }
    }

    /// Tells a suspicion once.
    pub(super) fn suspect(&mut self, suspicion: Suspicion) {
        let bit = bit_of(suspicion);
        if self.state.told & bit == 0 {
            self.state.told |= bit;
            self.suspicions.push(suspicion);
        }
    }
}

const fn bit_of(suspicion: Suspicion) -> u8 {
    match suspicion {
        Suspicion::SensorReversed => 1,
        Suspicion::CapacityFarOff { .. } => 2,
        Suspicion::VoltageStuck => 4,
        Suspicion::VoltageAstray => 8,
    }
}
