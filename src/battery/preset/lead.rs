//! Lead and sulphuric acid.

use super::voltage::{SEALED_LEAD, VENTED_LEAD};
use super::{FullPreset, Preset, Range};
use crate::battery::charging::EfficiencyCurve;

/// Absorbed glass mat.
pub const AGM: Preset = Preset {
    nominal_cell_v: 2.0,
    // A cell reverses below 0 V and gasses off its charger's limit well below 3 V (common practice, no source).
    plausible_cell_v: Range { low: 0.0, high: 3.0 },
    // Band 1.05 to 1.15 (read: encyclopedia text at fxsolver.com, Peukert's law); the middle is assumed.
    peukert_exponent: 1.10,
    peukert_std_dev: 0.025,
    // Below the rated current the law would promise charge without end (Galushkin et al., J. Electrochem. Soc. 167
    // (2020) 120516); 0 leaves the rated current as the floor.
    peukert_floor_c_rate: 0.0,
    // High at low states of charge and falling off near full (Stevens & Corey, 25th IEEE PVSC, 1996). The knots are
    // assumed; with them a whole recharge needs a charge factor of 1.06, inside 1.05 to 1.15 (Gyenge et al., J. Power
    // Sources 113 (2003) 388).
    efficiency: EfficiencyCurve::from_knots([(0.0, 0.97), (0.80, 0.97), (1.0, 0.75)]),
    efficiency_std_dev: 0.02,
    full: FullPreset {
        // Absorption is held at 2.40 V a cell (read: battery-education text at wungiel.pl); 50 mV less so that a charger's
        // own tolerance and the cable do not hide it (assumed).
        voltage_per_cell_v: 2.35,
        // -3 mV/K a cell (read: wungiel.pl, "2.30 V/cell at 25 °C … 2.27 V/cell at 35 °C").
        compensation_v_per_k: -0.003,
        // 3 % of rated (read: a trade test report); the hold is common practice, no source.
        tail_ratio: 0.03,
        hold_s: 1800.0,
        soc_std_dev: 0.01,
    },
    voltage: SEALED_LEAD,
    // 1 to 3 % a month at 25 °C (memory, common for valve-regulated lead); the middle.
    self_discharge_per_day: 0.000_7,
    // Absorption takes hours whatever the charger can give (common practice, no source).
    finish_s: Range { low: 3600.0, high: 4.0 * 3600.0 },
};

/// Lead-carbon: as absorbed glass mat until measured (common practice, no source with a measured exponent found).
pub const LEAD_CARBON: Preset = Preset { peukert_std_dev: 0.04, ..AGM };

/// Gelled acid.
pub const GEL: Preset = Preset {
    // Band 1.10 to 1.25 (read: fxsolver.com, Peukert's law); the middle is assumed.
    peukert_exponent: 1.17,
    peukert_std_dev: 0.04,
    ..AGM
};

/// Vented cells with free acid.
pub const FLOODED: Preset = Preset {
    // Band 1.2 to 1.6 (read: fxsolver.com, Peukert's law); low in the band, as for a bank in good order, is assumed.
    peukert_exponent: 1.25,
    peukert_std_dev: 0.08,
    // Gases more: charge factor 1.13 for a whole recharge with these assumed knots, inside the band cited above.
    efficiency: EfficiencyCurve::from_knots([(0.0, 0.95), (0.70, 0.95), (1.0, 0.60)]),
    efficiency_std_dev: 0.03,
    full: FullPreset {
        // -5 mV/K a cell (read: encyclopedia text on float voltage, "-5mV * 6 cells * +5 C change = -150mV").
        compensation_v_per_k: -0.005,
        ..AGM.full
    },
    voltage: VENTED_LEAD,
    // 5 % a month at 25 °C (memory).
    self_discharge_per_day: 0.0017,
    ..AGM
};
