//! Years that a bank lasts by its temperature alone.

use crate::battery::{Chemistry, Family};

/// Gas constant, J/(mol K). Source: CODATA 2018, exact to the digits given.
const GAS_CONSTANT: f64 = 8.314_462_618;
const ZERO_C: f64 = 273.15;
/// Temperature at which lives are stated, °C.
const REFERENCE_C: f64 = 25.0;
/// However cold, ageing is not taken to be slower than this part of that at 25 °C [assumed].
const SLOWEST: f64 = 0.5;

/// By how many kelvin life halves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HalvingRule {
    /// Each 8 K. Source: two trade pages on valve-regulated lead (10 years at 25 °C, 5 at 33 °C, 30 months at 41 °C; read).
    EightKelvin,
    /// Each 10 K. Source: an open textbook on lead batteries, for the corrosion of grids (read); common practice elsewhere.
    TenKelvin,
}

impl HalvingRule {
    /// The rule used where none is set: 8 K for lead, 10 K for lithium (assumed for lithium).
    #[must_use]
    pub const fn default_for(family: Family) -> HalvingRule {
        match family {
            Family::Lead => HalvingRule::EightKelvin,
            Family::Lithium => HalvingRule::TenKelvin,
        }
    }

    const fn kelvin(self) -> f64 {
        match self {
            HalvingRule::EightKelvin => 8.0,
            HalvingRule::TenKelvin => 10.0,
        }
    }

    /// How much faster than at 25 °C a bank ages.
    #[must_use]
    pub fn pace(self, temperature_c: f64) -> f64 {
        ((temperature_c - REFERENCE_C) / self.kelvin()).exp2()
    }

    /// Activation energy of an Arrhenius law that halves life over the first step above 25 °C, J/mol.
    #[must_use]
    pub fn activation_energy(self) -> f64 {
        let (cold, hot) = (ZERO_C + REFERENCE_C, ZERO_C + REFERENCE_C + self.kelvin());
        GAS_CONSTANT * std::f64::consts::LN_2 / (cold.recip() - hot.recip())
    }

    /// The rule in words.
    #[must_use]
    pub fn words(self) -> String {
        format!(
            "life halves with each {:.0} K above 25 °C (as an activation energy of {:.0} kJ/mol would have it)",
            self.kelvin(),
            self.activation_energy() / 1000.0
        )
    }
}

/// A life by the calendar.
#[derive(Debug, Clone, PartialEq)]
pub struct CalendarLife {
    /// Years to 80 % at 25 °C, kept charged and not cycled.
    pub years_at_25_c: f64,
    /// How temperature shortens it.
    pub rule: HalvingRule,
    /// Where the years come from, for people.
    pub source: String,
}

impl CalendarLife {
    /// The life used where none is set.
    #[must_use]
    pub fn of(chemistry: Chemistry) -> CalendarLife {
        let (years_at_25_c, source) = match chemistry.family() {
            Family::Lead => {
                (10.0, "10 years at 25 °C: trade pages on valve-regulated lead (read); for other lead: assumed")
            }
            Family::Lithium => (15.0, "15 years at 25 °C: assumed, no source"),
        };
        let rule = HalvingRule::default_for(chemistry.family());
        CalendarLife { years_at_25_c, rule, source: source.to_owned() }
    }

    /// Years at a steady temperature, °C, by the rule alone.
    #[must_use]
    pub fn years_at(&self, temperature_c: f64) -> f64 {
        self.years_at_25_c / self.rule.pace(temperature_c)
    }

    /// Part of the life that times at temperatures, (°C, years), used. Cold is credited down to half of the pace at 25 °C.
    #[must_use]
    pub fn wear(&self, spent: impl IntoIterator<Item = (f64, f64)>) -> f64 {
        spent.into_iter().map(|(c, years)| years * self.rule.pace(c).max(SLOWEST) / self.years_at_25_c).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_year_in_the_cold_saves_half_a_year_at_most() {
        let life = CalendarLife::of(Chemistry::Agm);
        assert!((life.wear([(25.0, 10.0)]) - 1.0).abs() < 1e-12);
        assert!((life.wear([(-20.0, 1.0)]) - 0.05).abs() < 1e-12);
        assert!((life.wear([(33.0, 1.0), (41.0, 1.0)]) - 0.6).abs() < 1e-12);
        assert!(life.rule.words().contains("8 K"), "{}", life.rule.words());
    }
}
