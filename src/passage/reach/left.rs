//! How far it is until the reserve.

use serde::Serialize;

use super::SpeedBin;
use crate::battery::Bank;
use crate::quantity::{Band, BandedSoc};
use crate::reckoning::{Bound, Reckoned, endurance};

/// What a bank holds now.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Held {
    /// State of charge.
    pub soc: BandedSoc,
    /// Capacity at the rated hours and 25 °C, Ah.
    pub capacity_ah: f64,
    /// Its temperature, °C, where it is known.
    pub temperature_c: Option<f64>,
    /// What the bank gives besides the drive, A (≥ 0).
    pub other_load_a: f64,
}

/// Nautical miles until the reserve at a speed, or until the cut-off where that comes first.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct MilesLeft {
    /// The speed, knots.
    pub speed_kn: f64,
    /// Likely miles.
    pub likely_nm: f64,
    /// With little charge, and miles that take much.
    pub low_nm: f64,
    /// With much charge, and miles that take little.
    pub high_nm: f64,
}

/// The miles that are left at each speed. What a load can draw is by the bank's rates and temperature law, as endurance is; charge
/// that an earlier run has bound for the while is not known here and not taken off.
#[must_use]
pub fn miles_left(bank: &Bank, held: &Held, by_speed: &[SpeedBin]) -> Vec<MilesLeft> {
    let state = rested(held);
    by_speed
        .iter()
        .map(|bin| {
            let lasts = |wh_per_nm: f64| {
                let load_a = wh_per_nm * bin.speed_kn / bin.voltage_v + held.other_load_a;
                endurance(bank, &state, load_a).reserve
            };
            let miles = |seconds: f64| seconds / 3600.0 * bin.speed_kn;
            MilesLeft {
                speed_kn: bin.speed_kn,
                likely_nm: miles(lasts(bin.wh_per_nm).likely_s),
                low_nm: miles(lasts(bin.spread_wh_per_nm.high).low_s),
                high_nm: miles(lasts(bin.spread_wh_per_nm.low).high_s),
            }
        })
        .collect()
}

fn rested(held: &Held) -> Reckoned {
    let capacity_ah = held.capacity_ah;
    let BandedSoc { soc, band } = held.soc;
    Reckoned {
        soc,
        soc_band: band,
        held_ah: soc * capacity_ah,
        held_band_ah: Band { low: band.low * capacity_ah, high: band.high * capacity_ah },
        capacity_ah,
        capacity_band_ah: Band { low: capacity_ah, high: capacity_ah },
        drawn_since_full_ah: None,
        mean_current_a: None,
        temperature_c: held.temperature_c,
        start_known: true,
        bound: Bound::default(),
        learned: None,
    }
}
