//! Lithium ion.

use super::voltage;
use super::{FullPreset, Preset, Range};
use crate::battery::charging::EfficiencyCurve;

/// Lithium iron phosphate.
pub const LFP: Preset = Preset {
    nominal_cell_v: 3.2,
    // A protected cell is cut off long before either (common practice, no source).
    plausible_cell_v: Range { low: 0.0, high: 4.5 },
    // 1.00 to 1.05 (common practice, no source with a measured exponent found).
    peukert_exponent: 1.02,
    peukert_std_dev: 0.01,
    // The law is usable from about 0.2 C_n up (read: Yazvinskaya et al., Processes 9 (2021) 1753); below, capacity is
    // the rated one.
    peukert_floor_c_rate: 0.2,
    // Above 99 % (read: Batteries 5 (2019) 57); 0.995 to 1.0 for LFP, the middle is assumed.
    efficiency: EfficiencyCurve::from_knots([(0.0, 0.997), (0.5, 0.997), (1.0, 0.997)]),
    efficiency_std_dev: 0.002,
    full: FullPreset {
        // A cell is full at 3.65 V and 0.05 C (read: data sheet of a 304 Ah cell). Boats charge lower to spare the cells:
        // 3.45 V is past the plateau's end all the same (common practice, no source).
        voltage_per_cell_v: 3.45,
        compensation_v_per_k: 0.0,
        tail_ratio: 0.05,
        hold_s: 120.0,
        soc_std_dev: 0.01,
    },
    voltage: voltage::LFP,
    // 2 % a month (memory).
    self_discharge_per_day: 0.000_7,
    finish_s: Range { low: 0.0, high: 1800.0 },
};

/// Nickel manganese cobalt oxide.
pub const NMC: Preset = Preset {
    nominal_cell_v: 3.6,
    // As for LFP, above its higher charging voltage (common practice, no source).
    plausible_cell_v: Range { low: 0.0, high: 5.0 },
    // Assumed as for LFP, with more doubt.
    peukert_exponent: 1.03,
    peukert_std_dev: 0.015,
    full: FullPreset {
        // Charged to 4.2 V a cell and 0.05 C (memory, common to data sheets); 4.15 V leaves room for gentler chargers.
        voltage_per_cell_v: 4.15,
        ..LFP.full
    },
    voltage: voltage::NMC,
    ..LFP
};
