//! The make of a lead cell: sizes, amounts of acid and active material, conductances. All values assumed unless a source is named.

use super::acid;
use super::{NEGATIVE, POSITIVE, SEPARATOR};
use crate::battery::chain::{NODES, Profile};
use serde::{Deserialize, Serialize};

/// Part of the acid that the positive plate gives or takes: (3 - 2 t) / 2 with the transport number of hydrogen t = 0.72
/// (the classical porous-electrode treatment of the lead cell, from memory). The negative plate has the rest; together 1 mol per faraday.
pub const POSITIVE_SHARE: f64 = 0.78;

/// Plate area for one ampere-hour, m²: 0.46 m² in a 120 Ah cell.
const AREA_M2_PER_AH: f64 = 0.46 / 120.0;
/// Half thickness of the positive plate, thickness of the separator, half thickness of the negative plate, m.
const THICKNESS_M: [f64; 3] = [1.15e-3, 1.30e-3, 0.95e-3];
/// Porosity of the three when full.
const POROSITY: [f64; 3] = [0.50, 0.92, 0.56];
/// Porosity that the positive plate loses when all its material has become sulphate, which takes more room.
const POROSITY_LOSS: f64 = 0.16;
/// Exponent of porosity in the effective diffusivity (Bruggeman's, for packed spheres).
const HINDRANCE: f64 = 1.5;
/// Acid outside the stack, litres for one ampere-hour, and the time it takes to mix, s.
const RESERVOIR_L_PER_AH: f64 = 0.15 / 120.0;
const MIXING_S: f64 = 5.0 * 3600.0;

/// A cell's make, for a block of `cells` in series.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Design {
    pub cells: u32,
    pub full_acid: f64,
    pub volume_l: Profile,
    pub reservoir_l: f64,
    pub mixing_l_per_s: f64,
    pub positive_ah: f64,
    pub negative_ah: f64,
    pub positive_exchange_a: f64,
    pub negative_exchange_a: f64,
    pub gas_a: f64,
    area_m2: f64,
    metal_ohm: f64,
    acid_ohm: f64,
}

impl Design {
    /// A design for about `capacity_ah` at 20 h and 25 °C, times the spread of one block.
    pub fn scaled(
        cells: u32,
        capacity_ah: f64,
        capacity_factor: f64,
        resistance_factor: f64,
        self_discharge_factor: f64,
    ) -> Self {
        let area_m2 = AREA_M2_PER_AH * capacity_ah;
        let mut volume_l = [0.0; NODES];
        for (range, part) in [(POSITIVE, 0), (SEPARATOR, 1), (NEGATIVE, 2)] {
            let count = if part == 1 { 4.0 } else { 3.0 };
            volume_l[range].fill(1000.0 * area_m2 * THICKNESS_M[part] * POROSITY[part] / count);
        }
        let reservoir_l = RESERVOIR_L_PER_AH * capacity_ah;
        Self {
            cells,
            // 5.2 mol/l is a density near 1.30, usual for valve-regulated cells (common practice, no source).
            full_acid: 5.2,
            volume_l,
            reservoir_l,
            mixing_l_per_s: reservoir_l / MIXING_S,
            positive_ah: 1.06 * capacity_ah * capacity_factor,
            negative_ah: 1.15 * capacity_ah * capacity_factor,
            positive_exchange_a: 0.26 * capacity_ah / resistance_factor,
            negative_exchange_a: 0.35 * capacity_ah / resistance_factor,
            gas_a: 0.02 * capacity_ah / 100.0 * self_discharge_factor,
            area_m2,
            // 120 Ah: about 0.25 mohm of metal and as much of acid in a cell.
            metal_ohm: 0.030 / capacity_ah * resistance_factor,
            acid_ohm: 0.030 / capacity_ah * resistance_factor,
        }
    }

    /// Conductance between neighbouring volumes, l/s.
    pub fn conductance(&self, acid: &Profile, use_of_positive: f64, temperature_c: f64) -> Profile {
        let mut resistance = [0.0; NODES];
        let parts = [(POSITIVE, 3.0, 0), (SEPARATOR, 4.0, 1), (NEGATIVE, 3.0, 2)];
        for (range, count, part) in parts {
            let loss = if part == 0 { POROSITY_LOSS * use_of_positive.clamp(0.0, 1.0) } else { 0.0 };
            let hindrance = (POROSITY[part] - loss).powf(HINDRANCE);
            let half_m = THICKNESS_M[part] / count / 2.0;
            for i in range {
                let diffusivity = acid::diffusivity_m2_per_s(acid[i], temperature_c) * hindrance;
                // 1000 l in a m³ turns m²/s times m²/m into l/s.
                resistance[i] = half_m / (1000.0 * diffusivity * self.area_m2);
            }
        }
        let mut conductance = [0.0; NODES];
        for (value, pair) in conductance.iter_mut().zip(resistance.windows(2)) {
            *value = 1.0 / (pair[0] + pair[1]);
        }
        conductance
    }

    /// Ohmic resistance of one cell when new, ohm.
    pub fn resistance_ohm(&self, separator_acid: f64, temperature_c: f64) -> f64 {
        self.metal_ohm + self.acid_ohm / acid::relative_conductivity(separator_acid, temperature_c)
    }
}
