//! How many cycles of one depth a bank bears, and the sum over cycles of many depths.

use crate::battery::Chemistry;

/// Cycles to 80 % of the rating at 25 °C against depth of discharge.
#[derive(Debug, Clone, PartialEq)]
pub struct CycleLife {
    /// (depth 0..1, cycles), depth rising, cycles falling.
    points: Vec<(f64, f64)>,
    /// Where they come from, for people.
    source: String,
}

/// Points that make no curve.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CycleLifeError {
    /// Nothing was given.
    #[error("a cycle-life curve needs at least one point of depth and cycles")]
    Empty,
    /// A depth outside 0..1, or cycles that are not positive.
    #[error("point {0} of the cycle-life curve: depth must be above 0 and at most 1, cycles above 0")]
    Impossible(usize),
    /// Deeper and yet more cycles, or the same depth twice.
    #[error("point {0} of the cycle-life curve: depth must rise and cycles fall from point to point")]
    NotFalling(usize),
}

impl CycleLife {
    /// A curve from points (depth of discharge 0..1, cycles to 80 %), the shallowest first.
    ///
    /// # Errors
    /// [`CycleLifeError`] names the first point that does not fit.
    pub fn new(points: &[(f64, f64)], source: &str) -> Result<CycleLife, CycleLifeError> {
        for (i, (depth, cycles)) in points.iter().enumerate() {
            if !(*depth > 0.0 && *depth <= 1.0 && *cycles > 0.0 && cycles.is_finite()) {
                return Err(CycleLifeError::Impossible(i + 1));
            }
            if i > 0 && !(*depth > points[i - 1].0 && *cycles < points[i - 1].1) {
                return Err(CycleLifeError::NotFalling(i + 1));
            }
        }
        if points.is_empty() {
            return Err(CycleLifeError::Empty);
        }
        Ok(CycleLife { points: points.to_vec(), source: source.to_owned() })
    }

    /// The curve used where none is set.
    #[must_use]
    pub fn of(chemistry: Chemistry) -> CycleLife {
        let (points, source): (&[(f64, f64)], &str) = match chemistry {
            Chemistry::Flooded => (
                &[(0.5, 750.0), (0.8, 225.0)],
                "vented deep-cycle type, 750 cycles at 50 % and 225 at 80 %: two retailers' pages (read); between and beyond: assumed",
            ),
            Chemistry::Agm => (
                &[(0.5, 1000.0), (0.8, 500.0)],
                "AGM, 1000 cycles at 50 % and 500 at 80 %: two retailers' pages (read); between and beyond: assumed",
            ),
            Chemistry::Gel | Chemistry::LeadCarbon => (
                &[(0.5, 1000.0), (0.8, 500.0)],
                "assumed to be as AGM (1000 cycles at 50 %, 500 at 80 %): no source was found",
            ),
            Chemistry::Lfp => (
                &[(1.0, 3500.0)],
                "3500 cycles at 1 C and 25 °C: data sheet of a 304 Ah cell (read); the same throughput at lesser depth: assumed",
            ),
            Chemistry::Nmc => {
                (&[(1.0, 1000.0)], "1000 cycles: from memory, no source; the same throughput at lesser depth: assumed")
            }
        };
        CycleLife { points: points.to_vec(), source: source.to_owned() }
    }

    /// Where the points come from.
    #[must_use]
    pub fn source(&self) -> &str {
        &self.source
    }

    /// Cycles of this depth to 80 %. Straight between the points and beyond them where both scales are logarithmic; a
    /// curve of one point keeps its throughput. Infinite for a depth of 0 or less.
    #[must_use]
    pub fn cycles_at(&self, depth: f64) -> f64 {
        let [first, .., last] = self.points[..] else {
            let (at, cycles) = self.points[0];
            return if depth > 0.0 { cycles * at / depth } else { f64::INFINITY };
        };
        if depth <= 0.0 {
            return f64::INFINITY;
        }
        let (a, b) = self
            .points
            .windows(2)
            .map(|pair| (pair[0], pair[1]))
            .find(|(_, upper)| depth <= upper.0)
            .unwrap_or((self.points.get(self.points.len() - 2).copied().unwrap_or(first), last));
        let slope = (b.1 / a.1).ln() / (b.0 / a.0).ln();
        a.1 * (depth / a.0).powf(slope)
    }

    /// Part of the cycle life that these cycles used, by the linear sum of A. Palmgren (1924) and M. A. Miner, J. Appl. Mech. 12
    /// (1945) A159: each cycle of depth d takes one part in the cycles that the bank bears of it. Cycles are told by (range of the
    /// state of charge, count).
    #[must_use]
    pub fn wear(&self, swings: impl IntoIterator<Item = (f64, f64)>) -> f64 {
        swings.into_iter().filter(|(range, _)| *range > 0.0).map(|(range, count)| count / self.cycles_at(range)).sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_chemistry_has_a_falling_curve_that_says_where_it_comes_from() {
        for chemistry in Chemistry::ALL {
            let curve = CycleLife::of(chemistry);
            assert!(CycleLife::new(&curve.points, curve.source()).is_ok(), "{chemistry}");
            assert!(curve.source().contains("read") || curve.source().contains("no source"), "{chemistry}");
            for depth in 1..100_u8 {
                let depth = f64::from(depth) / 100.0;
                assert!(curve.cycles_at(depth) > curve.cycles_at(depth + 0.01), "{chemistry} {depth}");
            }
        }
    }

    #[test]
    fn points_that_make_no_curve_are_refused() {
        assert_eq!(CycleLife::new(&[], "x"), Err(CycleLifeError::Empty));
        assert_eq!(CycleLife::new(&[(0.0, 10.0)], "x"), Err(CycleLifeError::Impossible(1)));
        assert_eq!(CycleLife::new(&[(0.5, 10.0), (0.8, 12.0)], "x"), Err(CycleLifeError::NotFalling(2)));
        assert_eq!(CycleLife::new(&[(0.5, 10.0), (0.5, 9.0)], "x"), Err(CycleLifeError::NotFalling(2)));
    }

    #[test]
    fn as_many_cycles_as_the_curve_allows_are_the_whole_life() {
        let curve = CycleLife::new(&[(0.2, 3000.0), (0.5, 1000.0), (1.0, 300.0)], "x").unwrap();
        for (depth, cycles) in curve.points.clone() {
            assert!((curve.wear([(depth, cycles)]) - 1.0).abs() < 1e-9, "{depth}");
        }
        let half = curve.wear([(0.5, 250.0), (0.2, 750.0)]);
        assert!((half - 0.5).abs() < 1e-9, "a quarter by each: {half}");
        assert!(curve.wear([(0.0, 5.0)]).abs() < 1e-12 && curve.cycles_at(-1.0).is_infinite());
    }
}
