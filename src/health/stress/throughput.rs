//! A published law for lithium iron phosphate: loss of capacity by charge moved, rate and temperature.

/// Rating of the cells that the law was measured on, Ah: its throughput is that of one such cell.
const CELL_AH: f64 = 2.2;
const GAS_CONSTANT: f64 = 8.314;
const ZERO_C: f64 = 273.15;
const EXPONENT: f64 = 0.55;
/// The factor B against the rate in parts of the capacity an hour.
const FACTORS: [(f64, f64); 4] = [(0.5, 31_630.0), (2.0, 21_681.0), (6.0, 12_934.0), (10.0, 15_512.0)];

/// B at a rate: straight in the logarithms between the published rates (the interpolation is ours), the nearest one's outside.
fn factor(c_rate: f64) -> f64 {
    let c_rate = c_rate.clamp(FACTORS[0].0, FACTORS[3].0);
    let pair = FACTORS.windows(2).find(|pair| c_rate <= pair[1].0).unwrap_or(&FACTORS[2..]);
    let part = (c_rate / pair[0].0).ln() / (pair[1].0 / pair[0].0).ln();
    pair[0].1 * (pair[1].1 / pair[0].1).powf(part)
}

/// Capacity lost, ratio: `B exp((-31700 + 370.3 C) / (R T)) Ah^0.55` percent, with `Ah` the charge that a cell of 2.2 Ah has
/// moved, at a rate C (1/h) and temperature. Source: J. Wang et al., J. Power Sources 196 (2011) 3942, law and factors as quoted in
/// public notes (read there). Measured at C/2 to 10 C, 15 to 60 °C.
#[must_use]
pub fn lithium_iron_loss(c_rate: f64, temperature_c: f64, cell_ah: f64) -> f64 {
    let pace = ((-31_700.0 + 370.3 * c_rate) / (GAS_CONSTANT * (temperature_c + ZERO_C))).exp();
    factor(c_rate) * pace * cell_ah.max(0.0).powf(EXPONENT) / 100.0
}

/// Part of the life to a loss of `end_loss` (ratio, > 0) that was used by taking out `moved` times the rating, at a rate C (1/h)
/// and temperature, by the same law: the charge moved over that which the law allows.
#[must_use]
pub fn lithium_iron_wear(c_rate: f64, temperature_c: f64, moved: f64, end_loss: f64) -> f64 {
    (lithium_iron_loss(c_rate, temperature_c, moved * CELL_AH) / end_loss).powf(EXPONENT.recip())
}
