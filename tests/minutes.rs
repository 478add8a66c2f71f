//! Minutes of a bank that are made up.

use taffrail::quantity::{Extreme, Minute, Moment, Spread};

/// A whole minute at a steady current, of which nothing else is known.
pub fn steady(at: Moment, current_a: f64) -> Minute {
    let still = Extreme { value: current_a, at: at.mono };
    Minute {
        at,
        unseen_s: Some(0.0),
        covered_s: 60.0,
        voltage_v: None,
        current_a: Some(Spread { mean: current_a, min: still, max: still }),
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
