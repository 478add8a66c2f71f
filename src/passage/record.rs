//! A passage as it is found, and what it comes to.

use serde::{Deserialize, Serialize};

use crate::quantity::{BandedSoc, Moment};

/// A passage found in the data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Found {
    /// Its first moment.
    pub begin: Moment,
    /// Its last moment; `None` while it goes on.
    pub end: Option<Moment>,
}

/// A value and its moment.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct At {
    /// The value.
    pub value: f64,
    /// When.
    pub at: Moment,
}

/// What a passage comes to. Charges and energies are ≥ 0; currents and powers positive when they charge the bank.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Summary {
    /// From its first to its last moment by the clock, s; `None` where a boot in it cannot be placed in time.
    pub duration_s: Option<f64>,
    /// Seconds of it that samples cover.
    pub covered_s: f64,
    /// Charge put in, Ah.
    pub charge_in_ah: f64,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// State of charge at its beginning.
    pub soc_begin: Option<BandedSoc>,
    /// State of charge at its end.
    pub soc_end: Option<BandedSoc>,
    /// The lowest state of charge.
    pub soc_lowest: Option<BandedSoc>,
    /// When it was lowest.
    pub soc_lowest_at: Option<Moment>,
    /// True if the states of charge are those of the reconciled history.
    pub reconciled: bool,
    /// Lowest voltage, V.
    pub voltage_min: Option<At>,
    /// Highest voltage, V.
    pub voltage_max: Option<At>,
    /// The strongest discharge, A (negative), or the weakest charge where there was none.
    pub current_min: Option<At>,
    /// The strongest charge, A.
    pub current_max: Option<At>,
    /// The strongest discharge, W (negative).
    pub power_min: Option<At>,
    /// The strongest charge, W.
    pub power_max: Option<At>,
    /// The coldest, °C.
    pub temperature_min: Option<At>,
    /// The warmest, °C.
    pub temperature_max: Option<At>,
    /// Seconds of discharge above a fifth of the rated capacity per hour.
    pub above_c5_s: f64,
    /// Seconds above a half.
    pub above_c2_s: f64,
    /// Seconds above the whole.
    pub above_1c_s: f64,
    /// Low points of the charge below half between which it came up by a tenth or more; one at the end counts too.
    pub deep_excursions: u32,
    /// Mean load while discharging, A (≥ 0).
    pub mean_load_a: Option<f64>,
    /// The load that was exceeded for a twentieth of the time of discharge, A (≥ 0).
    pub load_95_a: Option<f64>,
    /// Seconds with the state of charge below the reserve.
    pub below_reserve_s: f64,
    /// Nautical miles over ground, where a channel has the speed.
    pub distance_nm: Option<f64>,
}
