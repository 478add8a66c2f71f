//! Physical constants (exact since the SI revision of 2019) and the temperature law that both chemistries share.

/// Faraday constant, C/mol (SI 2019).
pub const FARADAY: f64 = 96_485.332_12;
/// Molar gas constant, J/(mol K) (SI 2019).
pub const GAS: f64 = 8.314_462_618;
/// 0 °C in kelvin (definition).
pub const ZERO_C_K: f64 = 273.15;
/// The reference temperature of capacities and parameters, °C (DESIGN: SoC is stated at 25 °C).
pub const REFERENCE_C: f64 = 25.0;
/// Seconds in an hour.
pub const HOUR_S: f64 = 3600.0;

/// Arrhenius factor relative to 25 °C for an activation energy over R, in kelvin. Above 1 when warmer.
pub fn arrhenius(activation_k: f64, temperature_c: f64) -> f64 {
    (activation_k * (1.0 / (REFERENCE_C + ZERO_C_K) - 1.0 / (temperature_c + ZERO_C_K))).exp()
}

/// RT/F, V: 25.7 mV at 25 °C.
pub fn thermal_voltage_v(temperature_c: f64) -> f64 {
    GAS * (temperature_c + ZERO_C_K) / FARADAY
}

/// Overvoltage in units of 2RT/F of a transfer with both factors 1/2, asinh(current / twice), and its slope by current.
///
/// Written out because the library's `asinh` and `hypot`, exact to the last digit everywhere, took a fifth of a step's time.
pub fn transfer(current_a: f64, twice_exchange_a: f64) -> (f64, f64) {
    let root = (current_a * current_a + twice_exchange_a * twice_exchange_a).sqrt();
    let overvoltage = ((current_a.abs() + root) / twice_exchange_a).ln();
    (overvoltage.copysign(current_a), 1.0 / root)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn transfer_is_the_inverse_hyperbolic_sine_with_its_slope() {
        for current_a in [-300.0, -1.0, -1e-3, 0.0, 1e-6, 0.5, 120.0] {
            for twice in [1e-6, 0.1, 40.0] {
                let (overvoltage, slope) = transfer(current_a, twice);
                assert!((overvoltage - (current_a / twice).asinh()).abs() < 1e-12);
                let h = 1e-4 * (twice + current_a.abs());
                let numeric = (((current_a + h) / twice).asinh() - ((current_a - h) / twice).asinh()) / (2.0 * h);
                assert!((slope / numeric - 1.0).abs() < 1e-6, "{current_a} {twice}");
            }
        }
    }
}
