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
