//! The reaction of a lead cell: active areas, kinetics, gassing, and how a current divides between charge and gas.

use crate::battery::chain::{NODES, Profile};
use crate::battery::constants::{arrhenius, thermal_voltage_v, transfer};
use serde::{Deserialize, Serialize};

/// Volumes in a plate.
const PARTS: usize = 3;
/// How hard the inner volumes of a plate are to reach from the separator, relative to the kinetics (assumed), nearest first.
const PATH: [f64; PARTS] = [0.1, 0.35, 0.7];
/// Smallest active area kept, so that a spent plate is a very high resistance and not a division by zero.
const LEAST_AREA: f64 = 1e-7;

/// State of one plate of a cell.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Plate {
    /// Sulphate in each volume, as the charge that made it, Ah.
    sulphate_ah: [f64; PARTS],
    material_ah: f64,
    spread: [[f64; PARTS]; 2],
    area: [f64; 2],
    seen: [f64; PARTS],
}

impl Plate {
    /// Renews areas and spread for a plate with `material_ah` of active material; `mirrored` when its first volume faces the separator.
    ///
    /// Discharge needs active material and acid: area falls with both. Charge needs sulphate that dissolves from its crystals: both
    /// their number and their surface shrink, taken as linear (assumed): acceptance falls away towards full.
    pub fn renew(&mut self, acid: &[f64], material_ah: f64, mirrored: bool) {
        self.material_ah = material_ah;
        for (index, acid) in acid.iter().enumerate() {
            let near = if mirrored { index } else { PARTS - 1 - index };
            let used = (self.sulphate_ah[index] * PARTS as f64 / material_ah).clamp(0.0, 1.0);
            let acid = acid.max(0.0);
            let discharge = (1.0 - used).powf(1.3) * acid / (acid + 0.5);
            let charge = used;
            self.spread[0][index] = 1.0 / (1.0 / discharge.max(LEAST_AREA) + PATH[near]);
            self.spread[1][index] = 1.0 / (1.0 / charge.max(LEAST_AREA) + PATH[near]);
        }
        for direction in [0, 1] {
            let sum: f64 = self.spread[direction].iter().sum();
            self.area[direction] = sum / PARTS as f64;
            self.spread[direction].iter_mut().for_each(|part| *part /= sum);
        }
        for index in 0..PARTS {
            self.seen[index] = 0.5 * (self.spread[0][index] + self.spread[1][index]);
        }
    }

    /// How one ampere divides over the volumes.
    pub fn spread(&self, charging: bool) -> &[f64; PARTS] {
        &self.spread[usize::from(charging)]
    }

    /// Acid (or its change) as the electrode feels it: the mean over the volumes by their activity, the same in both directions
    /// so that the voltage has no step where the current changes sign.
    pub fn probe(&self, acid: &[f64]) -> f64 {
        self.seen.iter().zip(acid).map(|(part, acid)| part * acid).sum()
    }

    /// Exchange currents for discharge and charge, A. The charge current is bound to the dissolution of sulphate, which is slower.
    pub fn exchange(&self, full_a: f64, temperature_c: f64) -> [f64; 2] {
        // About 25 kJ/mol for the transfer and 35 for the dissolution (assumed).
        [
            full_a * self.area[0] * arrhenius(3000.0, temperature_c),
            0.22 * full_a * self.area[1] * arrhenius(4200.0, temperature_c),
        ]
    }

    /// Takes up charge (positive turns sulphate back).
    pub fn charge(&mut self, moved_ah: f64) {
        let spread = self.spread[usize::from(moved_ah > 0.0)];
        for (sulphate, part) in self.sulphate_ah.iter_mut().zip(spread) {
            *sulphate -= moved_ah * part;
        }
    }

    /// All sulphate, Ah.
    pub fn sulphate_ah(&self) -> f64 {
        self.sulphate_ah.iter().sum()
    }

    /// Part of the material that is sulphate.
    pub fn mean_use(&self) -> f64 {
        self.sulphate_ah() / self.material_ah
    }
}

/// Gas by Tafel's law: 20 mA for 100 Ah at 2.23 V and 25 °C (float current of the trade; common practice, no source),
/// 13 per volt and 6 % per kelvin (of the size that models of lead batteries in renewable systems use, from memory).
/// At open circuit the same law is the self-discharge.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Gassing {
    at_float_a: f64,
}

impl Gassing {
    const FLOAT_V: f64 = 2.23;
    const PER_V: f64 = 13.0;

    /// The law at a temperature, for a current at float and 25 °C.
    pub fn new(at_float_a: f64, temperature_c: f64) -> Self {
        Self { at_float_a: at_float_a * (0.06 * (temperature_c - 25.0)).exp() }
    }

    fn current_a(&self, cell_v: f64) -> f64 {
        // Beyond 2.83 V a cell is far outside use; the bound keeps the exponential finite while the solver searches.
        self.at_float_a * (Self::PER_V * (cell_v - Self::FLOAT_V).min(0.6)).exp()
    }
}

/// One cell's terminals for a current.
#[derive(Clone, Copy, Debug)]
pub struct Solved {
    pub voltage_v: f64,
    pub slope_ohm: f64,
    /// Current of the main reaction; the rest of the current is gas.
    pub main_a: f64,
}

/// The relation of current and voltage over one step.
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Reaction {
    positive_a: [f64; 2],
    negative_a: [f64; 2],
    resistance_ohm: f64,
    gassing: Gassing,
    twice_thermal_v: f64,
    response: [Profile; 2],
    equilibrium_v: f64,
    equilibrium_ohm: [f64; 2],
}

impl Reaction {
    /// From exchange currents (discharge, charge) of both plates, A, and the ohmic resistance of a cell.
    pub fn new(
        positive_a: [f64; 2],
        negative_a: [f64; 2],
        resistance_ohm: f64,
        gassing: Gassing,
        temperature_c: f64,
    ) -> Self {
        let twice_thermal_v = 2.0 * thermal_voltage_v(temperature_c);
        Self {
            positive_a,
            negative_a,
            resistance_ohm,
            gassing,
            twice_thermal_v,
            response: [[0.0; NODES]; 2],
            equilibrium_v: 0.0,
            equilibrium_ohm: [0.0; 2],
        }
    }

    /// Sets what one ampere of main current does to the acid over a step.
    pub fn set_response(&mut self, charging: bool, response: Profile) {
        self.response[usize::from(charging)] = response;
    }

    /// What one ampere of main current does to the acid over a step.
    pub fn response(&self, charging: bool) -> &Profile {
        &self.response[usize::from(charging)]
    }

    /// Sets the equilibrium voltage at the end of the step without current, and its change with main current.
    pub fn set_equilibrium(&mut self, voltage_v: f64, ohm: [f64; 2]) {
        self.equilibrium_v = voltage_v;
        self.equilibrium_ohm = ohm;
    }

    /// Equilibrium voltage of a cell at the end of the step, V.
    pub fn equilibrium_v(&self, main_a: f64) -> f64 {
        self.equilibrium_v + self.equilibrium_ohm[usize::from(main_a > 0.0)] * main_a
    }

    /// Voltage without the ohmic part, and its slope, for a main current. Symmetric transfer (Butler-Volmer with both factors 1/2) gives
    /// the inverse hyperbolic sine for each plate.
    fn polarised(&self, main_a: f64) -> (f64, f64) {
        let way = usize::from(main_a > 0.0);
        let mut voltage = self.equilibrium_v + self.equilibrium_ohm[way] * main_a;
        let mut slope = self.equilibrium_ohm[way];
        for exchange_a in [self.positive_a[way], self.negative_a[way]] {
            let (overvoltage, by_current) = transfer(main_a, 2.0 * exchange_a);
            voltage += self.twice_thermal_v * overvoltage;
            slope += self.twice_thermal_v * by_current;
        }
        (voltage, slope)
    }

    /// Divides `current_a` between main reaction and gas: Newton inside a bracket, from the last main current.
    pub fn solve(&self, current_a: f64, guess_a: f64) -> Solved {
        let ohmic = self.resistance_ohm * current_a;
        let (mut low, mut high) = (f64::NEG_INFINITY, current_a);
        let mut main_a = if guess_a <= current_a { guess_a } else { current_a };
        let mut solved = Solved { voltage_v: 0.0, slope_ohm: 0.0, main_a };
        for _ in 0..60 {
            let (polarised, slope) = self.polarised(main_a);
            let voltage_v = polarised + ohmic;
            let gas_a = self.gassing.current_a(voltage_v);
            let gas_slope = Gassing::PER_V * gas_a;
            let excess = main_a + gas_a - current_a;
            let steep = 1.0 + gas_slope * slope;
            let slope_ohm = self.resistance_ohm + slope * (1.0 - gas_slope * self.resistance_ohm) / steep;
            solved = Solved { voltage_v, slope_ohm: slope_ohm.max(1e-7), main_a };
            if excess.abs() < 1e-7 {
                break;
            }
            if excess > 0.0 {
                high = main_a
            } else {
                low = main_a
            }
            let newton = main_a - excess / steep;
            main_a = if newton > low && newton < high {
                newton
            } else if low.is_finite() {
                0.5 * (low + high)
            } else {
                high - 2.0 * excess.abs()
            };
        }
        solved
    }
}
