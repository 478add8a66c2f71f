//! Air that a lead bank needs while it gasses: information for the builder, and no proof of a design.

use crate::battery::Chemistry;

/// Said wherever these figures are shown.
pub const CAUTION: &str = "Information for the builder, by the formula of EN 50272-2 / IEC 62485-2; no proof of a design. \
    Hydrogen explodes from 4 % in air. The standard in force, the maker's figures for gas and charge current, and a \
    qualified marine electrician decide.";

/// How the charger holds the bank.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChargeMode {
    /// Kept full.
    Float,
    /// Being filled, or equalised.
    Boost,
}

/// What air a bank needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ventilation {
    /// Air flow, m³/h.
    pub flow_m3_per_h: f64,
    /// Free area of an inlet, and as much again of an outlet, with natural draught, cm².
    pub opening_cm2: f64,
}

/// Current that makes gas, mA per Ah of the rating: vented 5 on float and 20 on boost, valve-regulated 1 and 8. Source: the
/// table of IEC 62485-2 as a public calculator quotes it (estimation.tools, read), for 2.23 V (vented) or 2.27 V (valve-regulated) a cell on
/// float and 2.40 V on boost. `None` for chemistries that give off no hydrogen in use.
#[must_use]
pub const fn gas_current_ma_per_ah(chemistry: Chemistry, mode: ChargeMode) -> Option<f64> {
    match (chemistry, mode) {
        (Chemistry::Flooded, ChargeMode::Float) => Some(5.0),
        (Chemistry::Flooded, ChargeMode::Boost) => Some(20.0),
        (Chemistry::Agm | Chemistry::Gel | Chemistry::LeadCarbon, ChargeMode::Float) => Some(1.0),
        (Chemistry::Agm | Chemistry::Gel | Chemistry::LeadCarbon, ChargeMode::Boost) => Some(8.0),
        (Chemistry::Lfp | Chemistry::Nmc, _) => None,
    }
}

/// `Q = 0.05 n I_gas C / 1000` and `A = 28 Q`, for `cells` in series, each of `rated_ah`.
/// The 0.05 holds 0.42 L of hydrogen an ampere-hour, a dilution of 24 (to 4 %) and a safety of 5. Source: EN 50272-2 / IEC 62485-2 as cited
/// on engineers' and makers' pages (read there, not in the standard). `None` for chemistries that give off no hydrogen in use.
#[must_use]
pub fn ventilation(chemistry: Chemistry, mode: ChargeMode, cells: u32, rated_ah: f64) -> Option<Ventilation> {
    let gas_ma = gas_current_ma_per_ah(chemistry, mode)?;
    let flow_m3_per_h = 0.05 * f64::from(cells) * gas_ma * rated_ah / 1000.0;
    Some(Ventilation { flow_m3_per_h, opening_cm2: 28.0 * flow_m3_per_h })
}
