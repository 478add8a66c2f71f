//! Heat: one lump of mass that loses heat to the air around it.

use serde::{Deserialize, Serialize};

/// A bank's heat store.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct ThermalMass {
    temperature_c: f64,
    heat_capacity_j_per_k: f64,
    loss_w_per_k: f64,
}

impl ThermalMass {
    /// A mass at `temperature_c` with its heat capacity (J/K) and its loss to the surroundings (W/K).
    pub fn new(temperature_c: f64, heat_capacity_j_per_k: f64, loss_w_per_k: f64) -> Self {
        Self { temperature_c, heat_capacity_j_per_k, loss_w_per_k }
    }

    /// Temperature, °C.
    pub fn temperature_c(&self) -> f64 {
        self.temperature_c
    }

    /// Sets the temperature, °C.
    pub fn set_temperature_c(&mut self, temperature_c: f64) {
        self.temperature_c = temperature_c;
    }

    /// Takes up `heat_w` for `dt_s` and exchanges with `ambient_c` (implicit, stable at any step).
    pub fn step(&mut self, dt_s: f64, heat_w: f64, ambient_c: f64) {
        let k = dt_s / self.heat_capacity_j_per_k;
        self.temperature_c =
            (self.temperature_c + k * (heat_w + self.loss_w_per_k * ambient_c)) / (1.0 + k * self.loss_w_per_k);
    }
}
