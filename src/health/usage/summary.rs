//! What days and ways say together, for the health page.

use crate::health::record::{FullLoop, UseDay};
use crate::health::robust::median;
use crate::quantity::{Estimate, UtcMs};

/// Edges between the classes of temperature, °C; the first and last class are open.
pub const TEMPERATURE_EDGES_C: [f64; 5] = [0.0, 10.0, 20.0, 30.0, 40.0];

/// Days from the last full charge until now.
#[must_use]
pub fn days_since_full(last_full: UtcMs, now: UtcMs) -> f64 {
    now.seconds_since(last_full).max(0.0) / 86_400.0
}

/// The efficiency of charging over some ways: charge out over charge in, with the sensor's offset taken off as the last
/// way knows it. `None` where no way was deep enough.
#[must_use]
pub fn efficiency(loops: &[FullLoop]) -> Option<Estimate> {
    let (mut in_ah, mut out_ah, mut hours, mut variance) = (0.0, 0.0, 0.0, 0.0);
    for (way, efficiency) in loops.iter().filter_map(|way| Some((way, way.efficiency?))) {
        in_ah += way.charge_in_ah;
        out_ah += way.charge_out_ah;
        variance += (way.charge_in_ah * efficiency.std_dev).powi(2);
        if way.span.from.boot == way.span.to.boot {
            hours += way.span.to.mono.seconds_since(way.span.from.mono) / 3600.0;
        }
    }
    let offset = loops.iter().rev().find_map(|way| way.offset_a)?;
    let real_in_ah = in_ah - offset.value * hours;
    (real_in_ah > 0.0).then(|| Estimate {
        value: out_ah / real_in_ah,
        std_dev: variance.sqrt().hypot(offset.std_dev * hours) / real_in_ah,
    })
}

/// Hours of charging until full, the median of some ways. `None` of none.
#[must_use]
pub fn time_to_full(loops: &[FullLoop]) -> Option<f64> {
    median(&mut loops.iter().map(|way| way.charging_h).collect::<Vec<_>>())
}

/// Part of the time that the charge lay in each tenth, the lowest first. `None` where it was never known.
#[must_use]
pub fn shares_of_charge(days: &[UseDay]) -> Option<[f64; 10]> {
    let sums: [f64; 10] = std::array::from_fn(|i| days.iter().map(|day| day.soc_tenths_s[i]).sum());
    let all: f64 = sums.iter().sum();
    (all > 0.0).then(|| sums.map(|sum| sum / all))
}

/// Hours in each class of temperature, between [`TEMPERATURE_EDGES_C`].
#[must_use]
pub fn hours_by_temperature(days: &[UseDay]) -> [f64; 6] {
    std::array::from_fn(|i| days.iter().map(|day| day.temperature_s[i]).sum::<f64>() / 3600.0)
}
