//! What is left of a life by the rules of thumb, and whether to believe them or the measured fade.

use super::calendar::CalendarLife;
use super::cycle_life::CycleLife;
use super::throughput::lithium_iron_wear;
use crate::battery::{Chemistry, Range};
use crate::health::fade::{Crossing, NotYet};

/// The rules may be wrong by this factor either way [assumed: the spread of published cycle lives of one type of battery].
const DOUBT: f64 = 1.5;
/// Years of use below which no pace is told [assumed].
const LEAST_YEARS: f64 = 30.0 / 365.25;
/// Loss at which a life ends, parts of the rating.
const END_OF_LIFE_LOSS: f64 = 0.20;

/// How cycles wear.
#[derive(Debug, Clone, PartialEq)]
pub enum CycleLaw {
    /// By their depth.
    Depth(CycleLife),
    /// Lithium iron phosphate, by charge moved, rate and temperature (J. Wang et al. 2011).
    Throughput,
}

/// The rules that a stress sum goes by.
#[derive(Debug, Clone, PartialEq)]
pub struct Rules {
    /// For cycles.
    pub cycles: CycleLaw,
    /// For years.
    pub calendar: CalendarLife,
}

impl Rules {
    /// Those used where none are set.
    #[must_use]
    pub fn of(chemistry: Chemistry) -> Rules {
        Rules { cycles: CycleLaw::Depth(CycleLife::of(chemistry)), calendar: CalendarLife::of(chemistry) }
    }
}

/// What a bank was put through.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Endured<'a> {
    /// Years that were seen.
    pub years: f64,
    /// Cycles: (range of the state of charge, count).
    pub swings: &'a [(f64, f64)],
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Mean load while charge was taken out, A (≥ 0).
    pub load_a: f64,
    /// Rated capacity, Ah.
    pub rated_ah: f64,
    /// Times at temperatures: (°C, any unit of time). Stands for all the years; 25 °C where nothing is known.
    pub temperatures: &'a [(f64, f64)],
    /// Part of the life that was used before, 0..1.
    pub used_before: f64,
}

/// Life by the rules of thumb.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StressLife {
    /// Part of a life that the cycles took.
    pub by_cycles: f64,
    /// Part of a life that the years took.
    pub by_years: f64,
    /// Part of the life that is used.
    pub used: Range,
    /// Years left at the pace so far.
    pub years_left: Range,
}

impl Endured<'_> {
    fn temperature_c(&self) -> f64 {
        let total: f64 = self.temperatures.iter().map(|t| t.1).sum();
        if total > 0.0 { self.temperatures.iter().map(|(c, time)| c * time).sum::<f64>() / total } else { 25.0 }
    }

    fn by_cycles(&self, law: &CycleLaw) -> f64 {
        match law {
            CycleLaw::Depth(curve) => curve.wear(self.swings.iter().copied()),
            CycleLaw::Throughput => {
                let c_rate = self.load_a / self.rated_ah;
                let moved = self.charge_out_ah / self.rated_ah;
                lithium_iron_wear(c_rate, self.temperature_c(), moved, END_OF_LIFE_LOSS)
            }
        }
    }

    fn by_years(&self, life: &CalendarLife) -> f64 {
        let total: f64 = self.temperatures.iter().map(|t| t.1).sum();
        if total > 0.0 {
            life.wear(self.temperatures.iter().map(|(c, time)| (*c, self.years * time / total)))
        } else {
            life.wear([(25.0, self.years)])
        }
    }
}

/// What use took, and what it leaves at the same pace. At worst cycles and years add up and the rules are too kind by 1.5;
/// at best only the greater of both counts and they are too hard by as much. `None` for less than 30 days of use, or a
/// rating that is not positive.
#[must_use]
pub fn stress_life(endured: &Endured<'_>, rules: &Rules) -> Option<StressLife> {
    if !(endured.years >= LEAST_YEARS && endured.rated_ah > 0.0) {
        return None;
    }
    let (by_cycles, by_years) = (endured.by_cycles(&rules.cycles), endured.by_years(&rules.calendar));
    let taken = Range { low: by_cycles.max(by_years) / DOUBT, high: (by_cycles + by_years) * DOUBT };
    let used = Range { low: endured.used_before + taken.low, high: endured.used_before + taken.high };
    let left = |used: f64, taken: f64| (1.0 - used).max(0.0) * endured.years / taken;
    let years_left = Range { low: left(used.high, taken.high), high: left(used.low, taken.low) };
    (years_left.high.is_finite()).then_some(StressLife { by_cycles, by_years, used, years_left })
}

/// Which of both to go by.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Believed {
    /// The measured fade.
    Measured,
    /// The rules of thumb.
    RuleOfThumb,
    /// Neither says anything yet.
    Neither,
}

impl Believed {
    /// Measured fade once it is earned; else the rules of thumb.
    #[must_use]
    pub fn of(measured: &Result<Crossing, NotYet>, stress: Option<&StressLife>) -> Believed {
        match (measured, stress) {
            (Ok(_), _) => Believed::Measured,
            (Err(_), Some(_)) => Believed::RuleOfThumb,
            (Err(_), None) => Believed::Neither,
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Believed::Measured => {
                "Believe the measured fade: it is what this bank did. The stress sum is a rule of thumb for banks of its kind."
            }
            Believed::RuleOfThumb => {
                "The measured fade says nothing yet, so there is only the stress sum: a rule of thumb for banks of its kind, \
                 not a measurement of this one."
            }
            Believed::Neither => "Neither the measured fade nor the stress sum says anything yet.",
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn endured(swings: &[(f64, f64)]) -> Endured<'_> {
        Endured {
            years: 2.0,
            swings,
            charge_out_ah: 40_000.0,
            load_a: 50.0,
            rated_ah: 100.0,
            temperatures: &[],
            used_before: 0.0,
        }
    }

    #[test]
    fn two_years_of_deep_cycles_leave_little_of_an_agm_bank() {
        let swings = [(0.8, 200.0)];
        let life = stress_life(&endured(&swings), &Rules::of(Chemistry::Agm)).unwrap();
        assert!((life.by_cycles - 0.4).abs() < 1e-12 && (life.by_years - 0.2).abs() < 1e-12, "{life:?}");
        assert!((life.used.low - 0.4 / 1.5).abs() < 1e-12 && (life.used.high - 0.9).abs() < 1e-12, "{life:?}");
        assert!((life.years_left.low - 0.1 * 2.0 / 0.9).abs() < 1e-9, "{life:?}");
        assert!((life.years_left.high - (1.0 - 0.4 / 1.5) * 2.0 / (0.4 / 1.5)).abs() < 1e-9, "{life:?}");
    }

    #[test]
    fn heat_and_a_life_behind_it_shorten_what_is_left() {
        let swings = [(0.3, 100.0)];
        let rules = Rules::of(Chemistry::Gel);
        let cool = stress_life(&endured(&swings), &rules).unwrap();
        let hot = stress_life(&Endured { temperatures: &[(33.0, 5.0)], ..endured(&swings) }, &rules).unwrap();
        assert!((hot.by_years - 2.0 * cool.by_years).abs() < 1e-12);
        let old = stress_life(&Endured { used_before: 0.3, ..endured(&swings) }, &rules).unwrap();
        assert!(old.years_left.high < cool.years_left.high && hot.years_left.low < cool.years_left.low);
    }

    #[test]
    fn a_month_is_needed_before_a_pace_is_told() {
        let short = Endured { years: 0.05, ..endured(&[]) };
        assert_eq!(stress_life(&short, &Rules::of(Chemistry::Lfp)), None);
        assert_eq!(Believed::of(&Err(NotYet::Few { have: 1, need: 6 }), None), Believed::Neither);
    }

    /// 400 times the rating moved in and out of 7588 (16 693 Ah of a 2.2 Ah cell at C/2 and 25 °C; CHECKS of J. Wang et al. 2011).
    #[test]
    fn charge_moved_wears_lithium_iron_by_the_published_law() {
        let rules = Rules { cycles: CycleLaw::Throughput, ..Rules::of(Chemistry::Lfp) };
        let life = stress_life(&endured(&[]), &rules).unwrap();
        assert!((life.by_cycles - 400.0 * 2.2 / 16_693.0).abs() < 1e-5, "{life:?}");
    }
}
