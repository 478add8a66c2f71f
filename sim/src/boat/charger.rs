//! Charging in three stages: all the current there is up to the absorption voltage, holding that until the current has tapered, then float.

use serde::{Deserialize, Serialize};

/// Settings of a bank's charging.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Settings {
    /// Voltage held in absorption at 25 °C, V.
    pub absorption_v: f64,
    /// Voltage held afterwards at 25 °C, V.
    pub float_v: f64,
    /// Below this the bank is no longer held to be full, V.
    pub again_below_v: f64,
    /// Absorption ends when the current has stayed below this, A.
    pub tail_a: f64,
    /// Longest absorption, s.
    pub longest_s: f64,
    /// Change of both voltages by temperature, V/K.
    pub per_kelvin_v: f64,
}

impl Settings {
    /// 24 lead cells: 2.40 V and 2.25 V a cell with -4 mV/K (common practice, no source).
    pub fn drive() -> Self {
        Self {
            absorption_v: 57.6,
            float_v: 54.0,
            again_below_v: 50.8,
            tail_a: 1.2,
            longest_s: 10.0 * 3600.0,
            per_kelvin_v: -0.096,
        }
    }

    /// 8 lithium iron phosphate cells: 3.5 V and 3.35 V a cell.
    pub fn house() -> Self {
        Self {
            absorption_v: 28.0,
            float_v: 26.8,
            again_below_v: 26.2,
            tail_a: 6.0,
            longest_s: 2.0 * 3600.0,
            per_kelvin_v: 0.0,
        }
    }
}

/// Tail current and low voltage must last so long to count, s.
const HOLD_S: f64 = 300.0;

/// Where a bank's charging stands.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Charger {
    settings: Settings,
    floating: bool,
    absorbed_s: f64,
    held_s: f64,
}

impl Charger {
    /// Begins in the first stage.
    pub fn new(settings: Settings) -> Self {
        Self { settings, floating: false, absorbed_s: 0.0, held_s: 0.0 }
    }

    /// Begins anew, as when a source is switched on.
    pub fn restart(&mut self) {
        self.floating = false;
        self.absorbed_s = 0.0;
        self.held_s = 0.0;
    }

    /// The voltage at which sources throttle now, V.
    pub fn limit_v(&self, temperature_c: f64) -> f64 {
        let base_v = if self.floating { self.settings.float_v } else { self.settings.absorption_v };
        base_v + self.settings.per_kelvin_v * (temperature_c - 25.0)
    }

    /// Takes note of a step of charging.
    pub fn step(&mut self, dt_s: f64, voltage_v: f64, current_a: f64, temperature_c: f64) {
        if self.floating {
            self.hold(dt_s, voltage_v < self.settings.again_below_v);
            if self.held_s > HOLD_S {
                self.restart();
            }
            return;
        }
        if voltage_v > self.limit_v(temperature_c) - 0.05 {
            self.absorbed_s += dt_s;
            self.hold(dt_s, current_a < self.settings.tail_a);
            if self.held_s > HOLD_S || self.absorbed_s > self.settings.longest_s {
                self.floating = true;
                self.held_s = 0.0;
            }
        } else {
            self.held_s = 0.0;
        }
    }

    fn hold(&mut self, dt_s: f64, condition: bool) {
        self.held_s = if condition { self.held_s + dt_s } else { 0.0 };
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn float_follows_a_tapered_current_and_a_low_bank_begins_again() {
        let mut charger = Charger::new(Settings::drive());
        let absorption_v = charger.limit_v(25.0);
        charger.step(600.0, absorption_v, 10.0, 25.0);
        assert!((charger.limit_v(25.0) - absorption_v).abs() < 1e-12);
        charger.step(600.0, absorption_v, 1.0, 25.0);
        assert!(charger.limit_v(25.0) < absorption_v - 1.0);
        charger.step(600.0, 50.0, -5.0, 25.0);
        assert!((charger.limit_v(25.0) - absorption_v).abs() < 1e-12);
    }

    #[test]
    fn warm_lead_is_charged_at_a_lower_voltage() {
        let charger = Charger::new(Settings::drive());
        assert!((charger.limit_v(35.0) - (57.6 - 0.96)).abs() < 1e-9);
    }
}
