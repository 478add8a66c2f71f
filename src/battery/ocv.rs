//! Rest voltage of a cell against its state of charge.

/// A curve through knots (state of charge, volts of a cell), rising; linear between them and beyond its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OcvCurve {
    knots: &'static [(f64, f64)],
}

impl OcvCurve {
    /// A curve through knots that rise in both columns; at least two.
    #[must_use]
    pub const fn from_knots(knots: &'static [(f64, f64)]) -> OcvCurve {
        OcvCurve { knots }
    }

    /// Volts of a cell and their slope, V per unit of charge, at a state of charge; below 0 and above 1 the end pieces go
    /// on.
    #[must_use]
    pub fn at(&self, soc: f64) -> (f64, f64) {
        let last = self.knots.len() - 1;
        let upper = self.knots.partition_point(|knot| knot.0 < soc).clamp(1, last);
        let (low, high) = (self.knots[upper - 1], self.knots[upper]);
        let slope = (high.1 - low.1) / (high.0 - low.0);
        (low.1 + slope * (soc - low.0), slope)
    }
}

/// Rest voltage of a lead cell from the acid's molality, mol/kg, at 25 °C.
///
/// Source: H. Bode, Lead-Acid Batteries, Wiley 1977: E+ and E- as polynomials of the logarithm of the molality. Used to
/// check the presets' knots.
#[must_use]
pub fn lead_cell_v(molality: f64) -> f64 {
    let l = molality.log10();
    let positive = 1.628 + 0.074 * l + 0.033 * l.powi(2) + 0.043 * l.powi(3) + 0.022 * l.powi(4);
    let negative = -0.294 - 0.074 * l - 0.030 * l.powi(2) - 0.031 * l.powi(3) - 0.012 * l.powi(4);
    positive - negative
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_is_met_at_its_knots_and_goes_on_beyond_them() {
        let curve = OcvCurve::from_knots(&[(0.0, 2.0), (0.5, 3.0), (1.0, 3.5)]);
        for (soc, volts, slope) in
            [(0.0, 2.0, 2.0), (0.25, 2.5, 2.0), (0.75, 3.25, 1.0), (1.1, 3.6, 1.0), (-0.1, 1.8, 2.0)]
        {
            let (v, s) = curve.at(soc);
            assert!((v - volts).abs() < 1e-12 && (s - slope).abs() < 1e-12, "{soc}: {v} {s}");
        }
    }
}
