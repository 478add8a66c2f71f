//! Charging: temperature-compensated voltages, charge efficiency, and the rule that says a bank is full.

/// A charging voltage given at 25 °C, at another temperature: `v + slope (θ - 25)`.
///
/// `per_kelvin_v` is for as many cells as `at_25_v` is; it is negative or zero (-3 to -5 mV a cell for lead).
#[must_use]
pub fn compensated_voltage(at_25_v: f64, per_kelvin_v: f64, temperature_c: f64) -> f64 {
    at_25_v + per_kelvin_v * (temperature_c - 25.0)
}

/// Coulombic efficiency of charging against state of charge: linear between three knots.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EfficiencyCurve {
    knots: [(f64, f64); 3],
}

impl EfficiencyCurve {
    /// Three knots (state of charge, efficiency), the first at 0, the last at 1, rising.
    #[must_use]
    pub const fn from_knots(knots: [(f64, f64); 3]) -> EfficiencyCurve {
        EfficiencyCurve { knots }
    }

    /// The part of the charge put in that stays, at a state of charge (clamped to 0..1).
    #[must_use]
    pub fn at(&self, soc: f64) -> f64 {
        let soc = soc.clamp(0.0, 1.0);
        let [first, middle, last] = self.knots;
        let (low, high) = if soc <= middle.0 { (first, middle) } else { (middle, last) };
        low.1 + (high.1 - low.1) * (soc - low.0) / (high.0 - low.0)
    }
}

/// When a bank counts as full: both at once, held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FullRule {
    /// Bank voltage at 25 °C at or above which the charger is finishing, V.
    pub voltage_v: f64,
    /// Change of that voltage with temperature, V/K for the whole string.
    pub compensation_v_per_k: f64,
    /// The bank takes no more than this, A (> 0).
    pub tail_current_a: f64,
    /// How long both must hold, s.
    pub hold_s: f64,
    /// 1 σ of the state of charge when the rule is met.
    pub soc_std_dev: f64,
}

impl FullRule {
    /// Whether one reading meets the rule. Small discharge (up to a tenth of the tail) is float with a load beside it.
    #[must_use]
    pub fn met_by(&self, voltage_v: f64, current_a: f64, temperature_c: f64) -> bool {
        voltage_v >= compensated_voltage(self.voltage_v, self.compensation_v_per_k, temperature_c)
            && current_a <= self.tail_current_a
            && current_a >= -0.1 * self.tail_current_a
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;

    #[test]
    fn efficiency_falls_near_full_for_lead_and_hardly_for_lithium() {
        let lead = Chemistry::Agm.preset().efficiency;
        assert!(lead.at(0.3) > 0.95 && lead.at(1.0) < 0.8 && lead.at(2.0) <= lead.at(0.9));
        assert!(Chemistry::Lfp.preset().efficiency.at(1.0) > 0.99);
    }

    #[test]
    fn a_warm_bank_is_full_at_a_lower_voltage() {
        let rule = FullRule {
            voltage_v: 14.1,
            compensation_v_per_k: -0.018,
            tail_current_a: 3.0,
            hold_s: 60.0,
            soc_std_dev: 0.01,
        };
        assert!(!rule.met_by(14.0, 1.0, 25.0));
        assert!(rule.met_by(14.0, 1.0, 35.0));
        assert!(!rule.met_by(14.4, 5.0, 25.0), "still taking charge");
        assert!(!rule.met_by(14.4, -1.0, 25.0), "a load holds it down");
    }
}
