//! A lithium iron phosphate cell: lithium diffuses through the ten shells of a sphere that stands for the whole electrode; the voltage is
//! that of its surface.

mod curve;

use super::chain::{Chain, NODES, Profile};
use super::constants::{HOUR_S, arrhenius, thermal_voltage_v, transfer};
use super::{Ageing, Monobloc, Terminal};
use serde::{Deserialize, Serialize};

/// Diffusion time of the sphere, radius squared over diffusivity, at 25 °C, s (assumed: about 6 % of the charge lags behind at 1 C).
const DIFFUSION_S: f64 = 3200.0;
/// Activation temperature of diffusion: 35 kJ/mol over R (assumed, usual size).
const DIFFUSION_K: f64 = 4200.0;
/// Activation temperature of charge transfer: 45 kJ/mol over R (assumed, usual size).
const TRANSFER_K: f64 = 5400.0;
/// Half the gap between the charge and the discharge curve at rest, V (assumed, of the known size).
const HYSTERESIS_V: f64 = 0.011;
/// Charge through which the hysteresis follows a change of direction, part of capacity (assumed).
const HYSTERESIS_SPAN: f64 = 0.04;
/// A balancing resistor draws this part of capacity per hour while a cell stands above its threshold (assumed).
const BALANCE_PER_H: f64 = 0.001;
const BALANCE_ABOVE_V: f64 = 3.45;
/// Slow coefficients are renewed after this much simulated time, s.
const RENEWAL_S: f64 = 30.0;

/// One cell.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct LithiumCell {
    new_ah: f64,
    capacity_ah: f64,
    resistance_factor: f64,
    leak_factor: f64,
    /// Missing charge of each shell, 0 full .. 1 empty.
    missing: Profile,
    hysteresis: f64,
    side_ah: f64,
    voltage_v: f64,
    since_renewal_s: f64,
    chain: Chain,
    response: Profile,
    half_shell_per_a: f64,
    resistance_ohm: f64,
    exchange_a: f64,
    twice_thermal_v: f64,
    leak_a: f64,
    relaxed: Profile,
    current_a: f64,
    probed_v: f64,
    main_a: f64,
    open_v: f64,
    dt_s: f64,
}

impl LithiumCell {
    /// A new cell with `missing_ratio` of its charge gone; the factors (near 1) are its spread in resistance and self-discharge.
    pub fn new(capacity_ah: f64, resistance_factor: f64, leak_factor: f64, missing_ratio: f64) -> Self {
        let mut cell = Self {
            new_ah: capacity_ah,
            capacity_ah,
            resistance_factor,
            leak_factor,
            missing: [missing_ratio; NODES],
            hysteresis: 0.0,
            side_ah: 0.0,
            voltage_v: 0.0,
            since_renewal_s: f64::MAX,
            chain: Chain::default(),
            response: [0.0; NODES],
            half_shell_per_a: 0.0,
            resistance_ohm: 0.0,
            exchange_a: 0.0,
            twice_thermal_v: 0.0,
            leak_a: 0.0,
            relaxed: [missing_ratio; NODES],
            current_a: 0.0,
            probed_v: 0.0,
            main_a: 0.0,
            open_v: 0.0,
            dt_s: 1.0,
        };
        cell.prepare(1.0, 25.0, &Ageing::new(super::Wear::lithium_iron_phosphate()));
        cell.voltage_v = cell.probe(0.0).voltage_v;
        cell
    }

    fn renew(&mut self, dt_s: f64, temperature_c: f64, ageing: &Ageing) {
        let capacity_ah = self.new_ah * ageing.capacity_factor();
        // What is missing is charge and stays the same when the cell has shrunk a little.
        let ratio = self.capacity_ah / capacity_ah;
        self.missing.iter_mut().for_each(|m| *m *= ratio);
        self.capacity_ah = capacity_ah;
        let rate_per_s = arrhenius(DIFFUSION_K, temperature_c) / DIFFUSION_S;
        let (volume, conductance) = shells(capacity_ah, rate_per_s);
        self.chain = Chain::factor(dt_s, &volume, &conductance);
        let mut source = [0.0; NODES];
        // Charging takes away from what is missing, at the outermost shell.
        source[NODES - 1] = -1.0 / HOUR_S;
        self.response = self.chain.response(&source);
        let outer = 1.0 - inner_radius(NODES - 1);
        self.half_shell_per_a = -(outer / 2.0) / (3.0 * rate_per_s * capacity_ah * HOUR_S);
        // 280 Ah: 0.25 mohm. Falls 0.8 % per K (assumed).
        self.resistance_ohm = 0.07 / self.new_ah
            * self.resistance_factor
            * ageing.resistance_factor()
            * (-0.008 * (temperature_c - 25.0)).exp();
        let mean = self.mean_missing().clamp(0.0, 1.0);
        self.exchange_a =
            0.7 * capacity_ah * (0.05 + (mean * (1.0 - mean)).sqrt()) * arrhenius(TRANSFER_K, temperature_c);
        self.twice_thermal_v = 2.0 * thermal_voltage_v(temperature_c);
        // 2 % a month at 25 °C, doubling each 10 K (common practice, no source).
        self.leak_a = 0.02 * self.new_ah / 730.0 * self.leak_factor * ((temperature_c - 25.0) / 10.0).exp2();
        self.since_renewal_s = 0.0;
    }

    fn mean_missing(&self) -> f64 {
        self.missing.iter().sum::<f64>() / NODES as f64
    }

    /// Hysteresis state, -1 after discharge .. 1 after charge, at the end of the step: it follows the charge moved.
    fn hysteresis_after(&self, main_a: f64) -> f64 {
        let moved = main_a.abs() * self.dt_s / (HOUR_S * self.capacity_ah * HYSTERESIS_SPAN);
        (self.hysteresis + moved * main_a.signum()) / (1.0 + moved)
    }
}

/// Inner radius of a shell as part of the whole; shells have equal volumes.
fn inner_radius(index: usize) -> f64 {
    (index as f64 / NODES as f64).cbrt()
}

/// Volumes (Ah of room in each shell) and conductances (Ah per second for the whole difference 1).
fn shells(capacity_ah: f64, rate_per_s: f64) -> (Profile, Profile) {
    let volume = [capacity_ah / NODES as f64; NODES];
    let mut conductance = [0.0; NODES];
    for (index, value) in conductance.iter_mut().enumerate().take(NODES - 1) {
        let boundary = inner_radius(index + 1);
        let middle = |i: usize| 0.5 * (inner_radius(i) + inner_radius(i + 1));
        // Area over distance, with the sphere's volume 1: 3 r² dr for a radius of 1.
        *value = capacity_ah * rate_per_s * 3.0 * boundary * boundary / (middle(index + 1) - middle(index));
    }
    (volume, conductance)
}

impl Monobloc for LithiumCell {
    fn prepare(&mut self, dt_s: f64, temperature_c: f64, ageing: &Ageing) {
        self.since_renewal_s += dt_s;
        self.dt_s = dt_s;
        let same_step = (self.chain.dt_s() - dt_s).abs() < 1e-9;
        if self.since_renewal_s >= RENEWAL_S || !same_step {
            self.renew(dt_s, temperature_c, ageing);
        }
        self.relaxed = self.chain.relax(&self.missing);
    }

    fn probe(&mut self, current_a: f64) -> Terminal {
        let bleed_a = if self.voltage_v > BALANCE_ABOVE_V { BALANCE_PER_H * self.new_ah } else { 0.0 };
        let main_a = current_a - self.leak_a - bleed_a;
        let per_a = self.response[NODES - 1] + self.half_shell_per_a;
        let surface = self.relaxed[NODES - 1] + per_a * main_a;
        let (curve_v, curve_slope) = curve::voltage(1.0 - surface);
        let (overvoltage, by_current) = transfer(main_a, 2.0 * self.exchange_a);
        self.open_v = curve_v + HYSTERESIS_V * self.hysteresis_after(main_a);
        self.current_a = current_a;
        self.main_a = main_a;
        let voltage_v = self.open_v + self.twice_thermal_v * overvoltage + self.resistance_ohm * current_a;
        let slope_ohm = -per_a * curve_slope + self.twice_thermal_v * by_current + self.resistance_ohm;
        self.probed_v = voltage_v;
        Terminal { voltage_v, slope_ohm }
    }

    fn commit(&mut self, dt_s: f64) -> f64 {
        for ((missing, relaxed), gain) in self.missing.iter_mut().zip(&self.relaxed).zip(&self.response) {
            *missing = relaxed + self.main_a * gain;
        }
        self.hysteresis = self.hysteresis_after(self.main_a);
        self.side_ah += (self.current_a - self.main_a) * dt_s / HOUR_S;
        self.voltage_v = self.probed_v;
        self.current_a * self.voltage_v - self.main_a * self.open_v
    }

    fn discharged_ah(&self) -> f64 {
        self.mean_missing() * self.capacity_ah
    }

    fn side_ah(&self) -> f64 {
        self.side_ah
    }

    fn voltage_v(&self) -> f64 {
        self.voltage_v
    }

    fn fill(&mut self) {
        self.missing = [0.0; NODES];
        self.hysteresis = 1.0;
        self.since_renewal_s = f64::MAX;
    }
}
