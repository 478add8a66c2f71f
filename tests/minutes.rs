//! Minutes of a bank that are made up, for the tests in this folder and, through `src/health/toys.rs`, for those beside the code.

use taffrail::quantity::{Extreme, Minute, Moment, Spread};

/// What stays the same all through a minute.
pub fn still(at: Moment, value: f64) -> Option<Spread> {
    let extreme = Extreme { value, at: at.mono };
    Some(Spread { mean: value, min: extreme, max: extreme })
}

/// A whole minute at a steady current, of which nothing else is known.
pub fn steady(at: Moment, current_a: f64) -> Minute {
    Minute {
        at,
        unseen_s: Some(0.0),
        covered_s: 60.0,
        voltage_v: None,
        current_a: still(at, current_a),
        power_w: None,
        temperature_c: None,
        charge_in_ah: current_a.max(0.0) / 60.0,
        charge_out_ah: (-current_a).max(0.0) / 60.0,
        energy_in_wh: 0.0,
        energy_out_wh: 0.0,
        monobloc_v: Vec::new(),
        branch_a: Vec::new(),
        speed_kn: None,
        balancing: None,
        soc: None,
    }
}

/// The same with a steady voltage, and so with power and energy.
pub fn powered(at: Moment, current_a: f64, voltage_v: f64) -> Minute {
    let minute = steady(at, current_a);
    Minute {
        voltage_v: still(at, voltage_v),
        power_w: still(at, current_a * voltage_v),
        energy_in_wh: minute.charge_in_ah * voltage_v,
        energy_out_wh: minute.charge_out_ah * voltage_v,
        ..minute
    }
}
