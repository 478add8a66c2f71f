//! The kinetic battery model of two wells: charge at hand, and charge bound that flows after it.
//!
//! Source: J. F. Manwell & J. G. McGowan, Solar Energy 50 (1993) 399. The available well holds the part `c` of the charge,
//! the bound well the rest; charge flows between them with the rate constant `k` (often written k', not to be mixed up
//! with k = k' c (1 - c) of Cloth, Jongerden & Haverkort, DSN 2007). A bank is empty when the available well is.
//!
//! The filter uses the *gap*: what is bound beyond balance, in parts of the rated capacity. Under a current it grows by
//! `(1 - c) / c` for each part drawn, and decays with `k`.

/// The two constants of the wells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoWell {
    /// Part of the capacity in the available well, 0..1 (exclusive).
    pub c: f64,
    /// Rate constant between the wells, 1/h (> 0).
    pub k_per_h: f64,
}

/// Range and centre of the search for the rate constant, 1/h. Diffusion into plates and particles takes minutes to hours;
/// a flat table of rates says little about it, and then the centre stands (assumed).
const K_LEAST_PER_H: f64 = 0.15;
const K_MOST_PER_H: f64 = 12.0;
const K_CENTRE_PER_H: f64 = 1.0;
/// How much an e-fold away from the centre must better the fit, in squared parts of the capacity (assumed: 0.1 %).
const K_PULL: f64 = 1e-6;

impl TwoWell {
    /// Both wells, Ah, after `hours` at `current_a` (positive discharges here, as in the source).
    ///
    /// `available_ah`, `bound_ah`: the wells before. An available well below 0 means that the load could not be carried.
    #[must_use]
    pub fn after(&self, available_ah: f64, bound_ah: f64, current_a: f64, hours: f64) -> (f64, f64) {
        let TwoWell { c, k_per_h: k } = *self;
        let total_ah = available_ah + bound_ah;
        let decay = (-k * hours).exp();
        let drift = k * hours - 1.0 + decay;
        let available =
            available_ah * decay + (total_ah * k * c - current_a) * (1.0 - decay) / k - current_a * c * drift / k;
        let bound = bound_ah * decay + total_ah * (1.0 - c) * (1.0 - decay) - current_a * (1.0 - c) * drift / k;
        (available, bound)
    }

    /// Charge that a full bank gives in `hours` at constant current, in parts of all that the wells hold.
    #[must_use]
    pub fn given_ratio(&self, hours: f64) -> f64 {
        let TwoWell { c, k_per_h: k } = *self;
        let kt = k * hours;
        let decay = (-kt).exp();
        kt * c / (1.0 - decay + c * (kt - 1.0 + decay))
    }

    /// Gap growth for each part of the capacity drawn.
    #[must_use]
    pub fn gap_per_drawn(&self) -> f64 {
        (1.0 - self.c) / self.c
    }

    /// The wells that come nearest to capacities against rate.
    ///
    /// `table`: (hours, capacity) at constant current, any unit; `rated`: the entry that the others are measured by.
    #[must_use]
    pub fn fit(table: &[(f64, f64)], rated: (f64, f64)) -> TwoWell {
        let ratio_error = |wells: TwoWell| -> f64 {
            let whole = wells.given_ratio(rated.0);
            let misfit: f64 =
                table.iter().map(|&(hours, ah)| (wells.given_ratio(hours) / whole - ah / rated.1).powi(2)).sum();
            misfit + K_PULL * (wells.k_per_h / K_CENTRE_PER_H).ln().powi(2)
        };
        let mut best = TwoWell { c: 0.5, k_per_h: K_CENTRE_PER_H };
        // Each round looks around the best so far on a grid half as wide.
        let (mut c_span, mut k_span) = (0.48, (K_MOST_PER_H / K_LEAST_PER_H).ln() / 2.0);
        for _ in 0..40 {
            let from = best;
            for i in -4..=4 {
                for j in -4..=4 {
                    let c = (from.c + c_span * f64::from(i) / 4.0).clamp(0.02, 0.98);
                    let k = (from.k_per_h.ln() + k_span * f64::from(j) / 4.0).exp().clamp(K_LEAST_PER_H, K_MOST_PER_H);
                    let wells = TwoWell { c, k_per_h: k };
                    if ratio_error(wells) < ratio_error(best) {
                        best = wells;
                    }
                }
            }
            c_span *= 0.75;
            k_span *= 0.75;
        }
        best
    }

    /// All that the wells hold, in parts of what they give in `rated_hours` (≥ 1).
    #[must_use]
    pub fn whole(&self, rated_hours: f64) -> f64 {
        1.0 / self.given_ratio(rated_hours)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rest_gives_back_and_keeps_the_sum() {
        let wells = TwoWell { c: 0.4, k_per_h: 0.8 };
        let (available, bound) = wells.after(40.0, 60.0, 60.0, 0.5);
        assert!((available + bound - 70.0).abs() < 1e-9);
        let (rested, below) = wells.after(available, bound, 0.0, 4.0);
        assert!(rested > available && (rested + below - 70.0).abs() < 1e-9);
        assert!((wells.after(rested, below, 0.0, 100.0).0 - 28.0).abs() < 1e-6);
    }

    #[test]
    fn a_fit_finds_the_wells_that_made_the_table() {
        let made = TwoWell { c: 0.3, k_per_h: 2.0 };
        let table: Vec<(f64, f64)> = [1.0, 2.0, 5.0, 10.0, 20.0]
            .iter()
            .map(|&h| (h, 100.0 * made.given_ratio(h) / made.given_ratio(20.0)))
            .collect();
        let found = TwoWell::fit(&table, (20.0, 100.0));
        for (hours, ah) in table {
            assert!(
                (100.0 * found.given_ratio(hours) / found.given_ratio(20.0) - ah).abs() < 0.3,
                "{found:?} at {hours} h"
            );
        }
    }
}
