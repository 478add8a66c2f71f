//! What the filter has learned of bank and sensor, quantity by quantity.

use serde::Serialize;
use utoipa::ToSchema;

use crate::quantity::{Estimate, UtcMs};
use crate::reckoning::Learned;
use crate::review::rfc3339;

/// A quantity that was learned on the way.
#[derive(Debug, Serialize, ToSchema)]
pub struct LearnedView {
    /// `capacity_ah`, `charge_efficiency`, `sensor_offset_a` (positive: the sensor reads too much charge),
    /// `resistance_25_ohm` (at 25 °C) or `ocv_shift_v` (rest voltage against the preset curve).
    quantity: &'static str,
    /// The likely value.
    value: f64,
    /// Lower edge of its 95 % band.
    low: f64,
    /// Upper edge.
    high: f64,
    /// Symbol of the unit; `1` is a ratio.
    unit: &'static str,
    /// Since when the band is about as narrow as it is, RFC 3339; `null` where that is not known.
    since: Option<String>,
}

/// The quantities in the order of [`Learned`]'s fields.
pub fn learned_views(learned: &Learned, since: [Option<UtcMs>; 5]) -> Vec<LearnedView> {
    let quantities: [(&'static str, &'static str, Estimate); 5] = [
        ("capacity_ah", "Ah", learned.capacity_ah),
        ("charge_efficiency", "1", learned.charge_efficiency),
        ("sensor_offset_a", "A", learned.sensor_offset_a),
        ("resistance_25_ohm", "Ω", learned.resistance_25_ohm),
        ("ocv_shift_v", "V", learned.ocv_shift_v),
    ];
    quantities
        .into_iter()
        .zip(since)
        .map(|((quantity, unit, estimate), since)| {
            // No bank gives back more than it was given.
            let most = if quantity == "charge_efficiency" { 1.0 } else { f64::INFINITY };
            let band = estimate.band().clamp(f64::NEG_INFINITY, most);
            let since = since.and_then(rfc3339);
            LearnedView { quantity, value: estimate.value, low: band.low, high: band.high, unit, since }
        })
        .collect()
}
