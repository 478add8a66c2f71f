//! How temperature changes what a bank gives.
//!
//! Published laws disagree (18 h at 5 A and 10 °C from a 100 Ah bank is 96 to 114 % by three of them), so each figure
//! that a law corrected says which law and which reference temperature it used.

use super::chemistry::Family;

/// λ of IEC 60896-11/-21 for the 10 h and 20 h rates, per kelvin (coefficients read on a maker's support page; the
/// attribution to the standard is from memory).
const LAMBDA_SLOW: f64 = 0.006;
/// λ for the 3 h and 1 h rates, per kelvin (same source).
const LAMBDA_FAST: f64 = 0.01;
/// Reference temperature of IEC 60896, °C.
const IEC_REFERENCE_C: f64 = 20.0;
/// Temperature at which taffrail states capacities, °C.
const OUR_REFERENCE_C: f64 = 25.0;

/// λ for a discharge that would last `hours`: 0.006 from 10 h up, 0.01 up to 3 h, between them linear in the logarithm
/// of the time (the interpolation is ours).
#[must_use]
pub fn iec_60896_lambda(hours: f64) -> f64 {
    let part = ((hours.max(1e-3) / 3.0).ln() / (10.0_f64 / 3.0).ln()).clamp(0.0, 1.0);
    LAMBDA_FAST + (LAMBDA_SLOW - LAMBDA_FAST) * part
}

/// Capacity at the reference temperature from one measured at `temperature_c`: `C = C_a / (1 + λ (θ - θ_ref))`,
/// IEC 60896-11/-21 with its reference of 20 °C.
#[must_use]
pub fn iec_60896_at_reference(measured_ah: f64, temperature_c: f64, lambda: f64) -> f64 {
    measured_ah / (1.0 + lambda * (temperature_c - IEC_REFERENCE_C))
}

/// Which law corrects the deliverable charge for temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TemperatureLaw {
    /// IEC 60896 linear law (λ by rate), restated to 25 °C. For lead, the default.
    Iec60896,
    /// Reciprocal of the IEEE 485 cell-sizing factor, reference 25 °C (77 °F). For lead.
    Ieee485,
    /// A gentle curve for lithium: 1 at 25 °C and above, 0.95 at 0 °C, 0.87 at -10 °C, 0.70 at -20 °C (memory, wide
    /// scatter between cells, no source).
    Lithium,
}

impl TemperatureLaw {
    /// The law used where the configuration names none.
    #[must_use]
    pub const fn default_for(family: Family) -> TemperatureLaw {
        match family {
            Family::Lead => TemperatureLaw::Iec60896,
            Family::Lithium => TemperatureLaw::Lithium,
        }
    }

    /// The word in the configuration.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            TemperatureLaw::Iec60896 => "iec-60896",
            TemperatureLaw::Ieee485 => "ieee-485",
            TemperatureLaw::Lithium => "lithium",
        }
    }

    /// Name for reports: the law and its reference temperature.
    #[must_use]
    pub const fn title(self) -> &'static str {
        match self {
            TemperatureLaw::Iec60896 => "IEC 60896 (λ 0.006 to 0.010 per K by rate), restated to 25 °C",
            TemperatureLaw::Ieee485 => "IEEE 485 cell-sizing factor, 25 °C",
            TemperatureLaw::Lithium => "lithium curve, 25 °C",
        }
    }

    /// Capacity at `temperature_c` in parts of that at 25 °C, for a discharge that would last `hours`. Never below 0.1.
    #[must_use]
    pub fn capacity_factor(self, temperature_c: f64, hours: f64) -> f64 {
        let factor = match self {
            TemperatureLaw::Iec60896 => {
                let lambda = iec_60896_lambda(hours);
                let at = |c: f64| 1.0 + lambda * (c - IEC_REFERENCE_C);
                at(temperature_c) / at(OUR_REFERENCE_C)
            }
            TemperatureLaw::Ieee485 => 1.0 / CellSizing::factor(temperature_c),
            TemperatureLaw::Lithium => interpolate(&LITHIUM_CURVE, temperature_c),
        };
        factor.max(0.1)
    }
}

impl std::str::FromStr for TemperatureLaw {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let all = [TemperatureLaw::Iec60896, TemperatureLaw::Ieee485, TemperatureLaw::Lithium];
        all.into_iter().find(|law| law.word() == text).ok_or_else(|| "one of iec-60896, ieee-485, lithium".into())
    }
}

/// (°C, capacity factor), from memory; see [`TemperatureLaw::Lithium`].
const LITHIUM_CURVE: [(f64, f64); 4] = [(-20.0, 0.70), (-10.0, 0.87), (0.0, 0.95), (25.0, 1.0)];

/// Temperature factor for cell sizing and rate-adjusted tests, 25 °C (77 °F) reference, about 1.215 specific gravity.
///
/// Read in public code of a battery-test program; remembered as IEEE 485 Table 1. Linear between the table's points,
/// constant beyond them.
#[derive(Debug, Clone, Copy)]
pub struct CellSizing;

impl CellSizing {
    /// The factor K at a temperature in °C.
    #[must_use]
    pub fn factor(temperature_c: f64) -> f64 {
        interpolate(&K_BY_FAHRENHEIT, temperature_c * 1.8 + 32.0)
    }
}

const K_BY_FAHRENHEIT: [(f64, f64); 24] = [
    (40.0, 1.300),
    (45.0, 1.250),
    (50.0, 1.190),
    (55.0, 1.150),
    (60.0, 1.110),
    (65.0, 1.080),
    (66.0, 1.072),
    (68.0, 1.056),
    (70.0, 1.040),
    (72.0, 1.029),
    (74.0, 1.017),
    (76.0, 1.006),
    (77.0, 1.000),
    (78.0, 0.994),
    (80.0, 0.980),
    (82.0, 0.972),
    (85.0, 0.960),
    (90.0, 0.940),
    (95.0, 0.930),
    (100.0, 0.910),
    (105.0, 0.890),
    (110.0, 0.880),
    (115.0, 0.870),
    (120.0, 0.860),
];

/// Temperature factor for time-adjusted capacity tests, 25 °C (77 °F) reference: by how much longer a warm bank lasts.
///
/// Read in public code of a battery-test program ("Time-Adjustment Method"); remembered as a table of IEEE 450. It is not
/// the reciprocal of [`CellSizing`]. Linear between the table's points, constant beyond them.
#[derive(Debug, Clone, Copy)]
pub struct TimeAdjustment;

impl TimeAdjustment {
    /// The factor `K_T` at a temperature in °C.
    #[must_use]
    pub fn factor(temperature_c: f64) -> f64 {
        interpolate(&TIME_BY_FAHRENHEIT, temperature_c * 1.8 + 32.0)
    }
}

const TIME_BY_FAHRENHEIT: [(f64, f64); 37] = [
    (40.0, 0.670),
    (45.0, 0.735),
    (50.0, 0.790),
    (55.0, 0.840),
    (60.0, 0.882),
    (65.0, 0.920),
    (66.0, 0.927),
    (67.0, 0.935),
    (68.0, 0.942),
    (69.0, 0.948),
    (70.0, 0.955),
    (71.0, 0.960),
    (72.0, 0.970),
    (73.0, 0.975),
    (74.0, 0.980),
    (75.0, 0.986),
    (76.0, 0.990),
    (77.0, 1.000),
    (78.0, 1.002),
    (79.0, 1.007),
    (80.0, 1.011),
    (81.0, 1.017),
    (82.0, 1.023),
    (83.0, 1.030),
    (84.0, 1.035),
    (85.0, 1.040),
    (86.0, 1.045),
    (87.0, 1.050),
    (88.0, 1.055),
    (89.0, 1.060),
    (90.0, 1.065),
    (95.0, 1.090),
    (100.0, 1.112),
    (105.0, 1.140),
    (110.0, 1.162),
    (115.0, 1.183),
    (120.0, 1.210),
];

/// Linear between the points of a table sorted by its first column, constant beyond its ends.
fn interpolate(table: &[(f64, f64)], x: f64) -> f64 {
    let upper = table.partition_point(|point| point.0 < x);
    match (upper.checked_sub(1).map(|i| table[i]), table.get(upper)) {
        (Some(low), Some(&high)) => low.1 + (high.1 - low.1) * (x - low.0) / (high.0 - low.0),
        (Some(last), None) => last.1,
        (None, Some(first)) => first.1,
        (None, None) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_law_is_one_at_twenty_five_degrees_and_less_in_the_cold() {
        for law in [TemperatureLaw::Iec60896, TemperatureLaw::Ieee485, TemperatureLaw::Lithium] {
            assert!((law.capacity_factor(25.0, 20.0) - 1.0).abs() < 1e-9, "{law:?}");
            assert!(law.capacity_factor(0.0, 20.0) < law.capacity_factor(10.0, 20.0), "{law:?}");
            assert!(law.capacity_factor(-60.0, 1.0) >= 0.1, "{law:?}");
        }
    }

    #[test]
    fn a_fast_discharge_suffers_more_from_cold_than_a_slow_one() {
        let law = TemperatureLaw::Iec60896;
        assert!(law.capacity_factor(5.0, 1.0) < law.capacity_factor(5.0, 20.0));
    }
}
