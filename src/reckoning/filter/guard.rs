//! Readings that contradict each other: spikes, a voltage that stands still, a sensor the wrong way round.
//!
//! Constants that name no source are assumed.

use serde::{Deserialize, Serialize};

/// Steps of the current smaller than this say nothing, A per Ah.
const STEP_RATE: f64 = 0.05;
/// A spike's step, A per Ah.
const SPIKE_RATE: f64 = 0.3;
/// A current step whose voltage step is less than this part of what the preset's resistance makes of it is no step.
const SPIKE_SHARE: f64 = 0.08;
/// Readings in a row that may be taken for spikes; then it is the truth.
const SPIKES_AT_MOST: u32 = 3;
/// What a voltage should have moved by when it counts as stuck, V a cell: by a changing load, over some readings, since two
/// changes may cancel; by charge drawn, since the curve may be flatter than the preset's.
const STUCK_LOAD_V: f64 = 0.003;
const STUCK_READINGS: u32 = 5;
const STUCK_CHARGE_V: f64 = 0.006;
/// Steepest slope of the rest voltage that charge drawn is held against, V per unit of charge.
const STEEPEST_SLOPE_V: f64 = 0.3;
/// A voltage under a load that stands still this many times as long as it usually does, and at least so long, s, is stuck.
const STILL_TIMES: f64 = 40.0;
const STILL_AT_LEAST_S: f64 = 1800.0;
/// Steps that must speak against the sensor's direction before it is called out.
const REVERSED_STEPS: f64 = 10.0;
/// Weight of earlier steps against each new one.
const MEMORY: f64 = 0.99;

/// What a reading is worth.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Verdict {
    /// The current can be counted.
    pub current: bool,
    /// The voltage can be used.
    pub voltage: bool,
}

/// Watches the readings.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Guard {
    cell_v: Option<f64>,
    rate: f64,
    spikes: u32,
    still_v: Option<f64>,
    still_most: f64,
    still_least: f64,
    still_moved: f64,
    still_s: f64,
    still_readings: u32,
    /// How long a voltage usually stands still while the bank discharges, s.
    usual_s: f64,
    stuck: bool,
    steps: f64,
    with_current: f64,
}

impl Default for Guard {
    fn default() -> Guard {
        Guard {
            cell_v: None,
            rate: 0.0,
            spikes: 0,
            still_v: None,
            still_most: 0.0,
            still_least: 0.0,
            still_moved: 0.0,
            still_s: 0.0,
            still_readings: 0,
            // Until it is known better: a digit a minute.
            usual_s: 60.0,
            stuck: false,
            steps: 0.0,
            with_current: 0.0,
        }
    }
}

impl Guard {
    /// Whether the voltage stands still while the current moves.
    pub const fn is_stuck(&self) -> bool {
        self.stuck
    }

    /// Whether voltage steps speak against the direction of the current.
    pub fn is_reversed(&self) -> bool {
        self.steps >= REVERSED_STEPS && self.with_current < -0.5 * self.steps
    }

    /// Forgets what lay before a time nobody watched.
    pub fn interrupt(&mut self) {
        self.cell_v = None;
        self.spikes = 0;
    }

    /// Takes a reading: seconds since the last, volts of a cell, whether they are possible at all, rate in A per Ah,
    /// resistance in Ω·Ah, slope of the rest voltage in V per unit of charge.
    pub fn look(&mut self, dt_s: f64, cell_v: f64, possible: bool, rate: f64, resistance: f64, slope: f64) -> Verdict {
        let spike = self.is_spike(cell_v, possible, rate, resistance);
        self.spikes = if spike || !possible { self.spikes + 1 } else { 0 };
        if spike && self.spikes <= SPIKES_AT_MOST {
            return Verdict { current: false, voltage: false };
        }
        if possible {
            self.look_for_direction(cell_v, rate, resistance);
            self.look_for_stillness(dt_s, cell_v, rate, resistance, slope);
            self.cell_v = Some(cell_v);
            self.rate = rate;
        }
        Verdict { current: true, voltage: possible && !self.stuck }
    }

    fn is_spike(&self, cell_v: f64, possible: bool, rate: f64, resistance: f64) -> bool {
        let (Some(before_v), true) = (self.cell_v, possible) else { return false };
        let step = rate - self.rate;
        step.abs() > SPIKE_RATE && (cell_v - before_v) * step.signum() < SPIKE_SHARE * step.abs() * resistance
    }

    fn look_for_direction(&mut self, cell_v: f64, rate: f64, resistance: f64) {
        let Some(before_v) = self.cell_v else { return };
        let step = rate - self.rate;
        let moved_v = cell_v - before_v;
        if step.abs() > STEP_RATE && moved_v.abs() > 0.2 * step.abs() * resistance {
            self.steps = self.steps * MEMORY + 1.0;
            self.with_current = self.with_current * MEMORY + (moved_v * step).signum();
        }
    }

    /// A charger holds its voltage to the digit while the current falls; stillness while a load comes or goes, or takes
    /// charge out, or lasts far longer than this voltage ever stood still, is none of its doing.
    fn look_for_stillness(&mut self, dt_s: f64, cell_v: f64, rate: f64, resistance: f64, slope: f64) {
        if self.still_v.is_none_or(|still| (still - cell_v).abs() > 1e-9) {
            if self.still_least < 0.0 && !self.stuck {
                self.usual_s += 0.02 * (self.still_s - self.usual_s);
            }
            self.still_v = Some(cell_v);
            (self.still_most, self.still_least) = (rate, rate);
            (self.still_moved, self.still_s, self.still_readings) = (0.0, 0.0, 1);
            self.stuck = false;
            return;
        }
        self.still_most = self.still_most.max(rate);
        self.still_least = self.still_least.min(rate);
        self.still_moved += rate * dt_s / 3600.0;
        self.still_s += dt_s;
        self.still_readings += 1;
        let discharging = self.still_least < 0.0;
        let should_v = (self.still_most - self.still_least) * 0.5 * resistance;
        // Where exactly the ends of the curve turn steep is not known.
        let fell_v = -self.still_moved * slope.min(STEEPEST_SLOPE_V);
        let too_long = self.still_s > (STILL_TIMES * self.usual_s).max(STILL_AT_LEAST_S) && self.still_most < 0.0;
        let should_have_moved = should_v > STUCK_LOAD_V || fell_v > STUCK_CHARGE_V;
        let still = self.still_readings >= STUCK_READINGS;
        self.stuck = self.stuck || (discharging && still && should_have_moved) || too_long;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const R: f64 = 0.1;

    fn settled() -> Guard {
        let mut guard = Guard::default();
        for i in 0..5 {
            assert_eq!(
                guard.look(10.0, 2.05 + 0.0001 * f64::from(i), true, -0.05, R, 0.1),
                Verdict { current: true, voltage: true }
            );
        }
        guard
    }

    #[test]
    fn a_current_that_the_voltage_knows_nothing_of_is_not_counted() {
        let mut guard = settled();
        assert!(!guard.look(10.0, 2.0505, true, -1.7, R, 0.1).current);
        assert!(guard.look(10.0, 2.0504, true, -0.05, R, 0.1).current);
        assert!(guard.look(10.0, 1.93, true, -1.2, R, 0.1).current, "a real burst pulls the voltage down");
    }

    #[test]
    fn what_lasts_is_no_spike() {
        let mut guard = settled();
        let counted =
            (0..6).filter(|i| guard.look(10.0, 2.0505 + 0.0001 * f64::from(*i), true, -1.7, R, 0.1).current).count();
        assert_eq!(counted, 3);
    }

    #[test]
    fn a_voltage_of_nought_is_not_used_and_the_current_is() {
        let mut guard = settled();
        assert_eq!(guard.look(10.0, 0.0, false, -0.05, R, 0.1), Verdict { current: true, voltage: false });
    }

    #[test]
    fn a_voltage_that_stands_still_under_a_changing_load_is_stuck_until_it_moves() {
        let mut guard = settled();
        for rate in [-0.05, -0.2, -0.15, -0.05] {
            guard.look(10.0, 2.06, true, rate, R, 0.1);
        }
        assert!(!guard.look(10.0, 2.06, true, -0.15, R, 0.1).voltage);
        assert!(guard.is_stuck());
        assert!(guard.look(10.0, 2.05, true, -0.15, R, 0.1).voltage);
    }

    #[test]
    fn a_charger_that_holds_its_voltage_is_not_stuck() {
        let mut guard = Guard::default();
        for i in 0..100 {
            assert!(guard.look(10.0, 2.4, true, 0.3 - 0.003 * f64::from(i), R, 0.1).voltage);
        }
    }

    #[test]
    fn a_sensor_the_wrong_way_round_is_told_by_its_steps() {
        let run = |sign: f64| {
            let mut guard = Guard::default();
            for i in 0..200 {
                let rate = if i % 2 == 0 { -0.2 } else { 0.0 };
                guard.look(10.0, 2.05 + rate * R, true, sign * rate, R, 0.1);
            }
            guard.is_reversed()
        };
        assert!(run(-1.0) && !run(1.0));
    }
}
