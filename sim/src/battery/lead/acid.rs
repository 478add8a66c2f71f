//! Properties of sulphuric acid and the equilibrium potentials of the lead electrodes.

use crate::battery::constants::arrhenius;

/// Molar mass of sulphuric acid, kg/mol (IUPAC atomic weights).
const MOLAR_MASS: f64 = 0.098_08;

/// Acid below this is treated as this in logarithms, mol/l: potentials and conductivity stay finite in a starved pore.
const THINNEST: f64 = 0.02;

/// Density of the acid, kg/l, straight line through 1.06 at 1 mol/l and 1.29 at 5 mol/l (handbook tables, from memory).
fn density_kg_per_l(concentration: f64) -> f64 {
    1.0 + 0.058 * concentration
}

/// Potential of the positive electrode against hydrogen, V, and its slope by concentration, V l/mol.
/// H. Bode, Lead-Acid Batteries, Wiley 1977: polynomial in the decimal logarithm of molality.
pub fn positive_potential(concentration: f64) -> (f64, f64) {
    bode(concentration, [1.628, 0.074, 0.033, 0.043, 0.022])
}

/// Potential of the negative electrode against hydrogen, V, and its slope by concentration. Bode 1977, as above.
pub fn negative_potential(concentration: f64) -> (f64, f64) {
    bode(concentration, [-0.294, -0.074, -0.030, -0.031, -0.012])
}

fn bode(concentration: f64, k: [f64; 5]) -> (f64, f64) {
    let c = concentration.max(THINNEST);
    let density = density_kg_per_l(c);
    let water = density - MOLAR_MASS * c;
    let l = (c / water).log10();
    let potential = k[0] + l * (k[1] + l * (k[2] + l * (k[3] + l * k[4])));
    let by_log = k[1] + l * (2.0 * k[2] + l * (3.0 * k[3] + l * 4.0 * k[4]));
    // d(ln m)/dc = 1/c - water'/water with water' = 0.058 - M, hence 1 / (c water) as density(0) = 1.
    (potential, by_log * std::f64::consts::LOG10_E / (c * water))
}

/// Diffusivity of the acid in free solution, m²/s: (1.75 + 0.26 c) e-9 at 25 °C with an activation temperature of 2174 K
/// (Newman and Tiedemann's lead-acid models of the 1970s, from memory).
pub fn diffusivity_m2_per_s(concentration: f64, temperature_c: f64) -> f64 {
    (1.75 + 0.26 * concentration.max(THINNEST)) * 1e-9 * arrhenius(2174.0, temperature_c)
}

/// Conductivity relative to its best at 25 °C: a hump with its top near 3.7 mol/l that falls towards water and towards strong acid,
/// 1.4 % per K (shape of the handbook curve, from memory).
pub fn relative_conductivity(concentration: f64, temperature_c: f64) -> f64 {
    let ratio = concentration.max(THINNEST) / 3.7;
    (ratio * (1.0 - ratio).exp()).max(0.02) * arrhenius(1250.0, temperature_c)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cell_potentials_follow_the_published_polynomials() {
        // Cell sums of Bode's polynomials at whole molalities.
        for (m, expected_v) in [(1.0, 1.922), (2.0, 1.9746), (3.0, 2.0168), (4.0, 2.0546), (5.0, 2.0896), (6.0, 2.1226)]
        {
            // Molality m = c / (1 + (0.058 - M) c) solved for c.
            let c = m / (1.0 - (0.058 - MOLAR_MASS) * m);
            let cell = positive_potential(c).0 - negative_potential(c).0;
            assert!((cell - expected_v).abs() < 1e-3, "{m}: {cell}");
        }
    }

    #[test]
    fn slope_agrees_with_a_small_difference() {
        for c in [0.3, 1.0, 3.0, 5.0] {
            let h = 1e-6;
            let numeric = (positive_potential(c + h).0 - positive_potential(c - h).0) / (2.0 * h);
            assert!((positive_potential(c).1 - numeric).abs() < 1e-6, "{c}");
        }
    }
}
