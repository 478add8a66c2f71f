//! Constants by chemistry, each with where it comes from. They fill what the bank description leaves out.
//!
//! Marks: *read* in the source named; *memory*: from memory, not looked up; *assumed*: our own choice inside a sourced
//! band; *common practice, no source*.

mod lead;
mod lithium;
mod voltage;

pub use lead::{AGM, FLOODED, GEL, LEAD_CARBON};
pub use lithium::{LFP, NMC};
pub use voltage::{Gassing, ShapeDoubt, VoltagePreset};

use super::charging::EfficiencyCurve;

/// A closed interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Range {
    /// Lower limit.
    pub low: f64,
    /// Upper limit.
    pub high: f64,
}

/// When a bank counts as full, per cell and per ampere-hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FullPreset {
    /// Volts a cell at 25 °C at or above which the charger is finishing.
    pub voltage_per_cell_v: f64,
    /// Change of that voltage with temperature, volts a cell and kelvin; not positive.
    pub compensation_v_per_k: f64,
    /// Tail current as a part of the rated capacity (A per Ah).
    pub tail_ratio: f64,
    /// How long both must hold, seconds.
    pub hold_s: f64,
    /// 1 σ of the state of charge at that moment, ratio.
    pub soc_std_dev: f64,
}

/// Everything a chemistry brings of itself.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Preset {
    /// Nominal volts of a cell.
    pub nominal_cell_v: f64,
    /// Volts a cell outside which a reading is no truth about this bank.
    pub plausible_cell_v: Range,
    /// Peukert exponent where neither rates nor an exponent are given.
    pub peukert_exponent: f64,
    /// 1 σ of that exponent.
    pub peukert_std_dev: f64,
    /// Rate (A per Ah of rated capacity) below which capacity grows no more.
    pub peukert_floor_c_rate: f64,
    /// Coulombic efficiency of charging against state of charge.
    pub efficiency: EfficiencyCurve,
    /// 1 σ of that efficiency, ratio.
    pub efficiency_std_dev: f64,
    /// Full rule.
    pub full: FullPreset,
    /// What the voltage says.
    pub voltage: VoltagePreset,
    /// Self-discharge at 25 °C, part of the capacity per day.
    pub self_discharge_per_day: f64,
    /// Time that finishing a charge takes beyond the count at the present current, seconds: (least, most).
    pub finish_s: Range,
}
