//! What a bank gives at a rate: Peukert's law in its rated-hours form, or a table of capacities.
//!
//! Source: W. Peukert, Elektrotechnische Zeitschrift 20 (1897); in the form normalised to a capacity `C` at the
//! `H`-hour rate, `t = H (C / (I H))^k`. Valid at constant current and temperature only (Doerffel & Sharkh, J. Power
//! Sources 155 (2006) 395), which is why the deliverable charge uses it and the state of charge must not.

/// Hours that a bank of `capacity_ah` at the `rated_hours` rate lasts at `current_a` (> 0).
///
/// The capacity and its hours belong together: at `current_a = capacity_ah / rated_hours` the answer is `rated_hours`
/// for every exponent.
#[must_use]
pub fn peukert_hours(capacity_ah: f64, rated_hours: f64, exponent: f64, current_a: f64) -> f64 {
    rated_hours * (capacity_ah / (current_a * rated_hours)).powf(exponent)
}

/// Peukert exponent through two ratings, each (hours, Ah): `k = ln(H2/H1) / ln(I1/I2)`.
#[must_use]
pub fn exponent_from_two_ratings(first: (f64, f64), second: (f64, f64)) -> f64 {
    let (hours_1, ah_1) = first;
    let (hours_2, ah_2) = second;
    (hours_2 / hours_1).ln() / ((ah_1 / hours_1) / (ah_2 / hours_2)).ln()
}

/// What a curve was made from, as the configuration states it.
#[derive(Debug, Clone, PartialEq)]
pub enum RateSource {
    /// A Peukert exponent.
    Exponent(f64),
    /// (hours, Ah), fastest first.
    Table(Vec<(f64, f64)>),
}

/// Capacity against discharge current at 25 °C, in parts of the rated capacity.
#[derive(Debug, Clone, PartialEq)]
pub struct RateCurve {
    /// (rate in A per Ah of rated capacity, capacity in parts of the rated one), rates rising, capacities not rising.
    knots: Vec<(f64, f64)>,
    /// 1 σ of the slope d ln(capacity) / d ln(rate).
    slope_std_dev: f64,
    source: RateSource,
}

/// 1 σ of the slope where a table of capacities is given: data sheets are typical values, 1 to 2 % apart a decade of
/// rate (assumed).
const TABLE_SLOPE_STD_DEV: f64 = 0.01;

impl RateCurve {
    /// Peukert's law from the rated current, or from `floor_c_rate` where that is higher, upwards; flat below.
    #[must_use]
    pub fn from_exponent(rated_hours: f64, exponent: f64, std_dev: f64, floor_c_rate: f64) -> RateCurve {
        let floor = floor_c_rate.max(1.0 / rated_hours);
        // Two knots fix the power law; beyond the last, the last slope goes on.
        let ten_times = 10_f64.powf(1.0 - exponent);
        RateCurve {
            knots: vec![(floor, 1.0), (10.0 * floor, ten_times)],
            slope_std_dev: std_dev,
            source: RateSource::Exponent(exponent),
        }
    }

    /// A table of (hours, Ah): between its points, and above the fastest, a power law; flat below the slowest.
    ///
    /// The points include the rated one, lie at distinct hours, and give less charge the faster they are.
    #[must_use]
    pub fn from_table(rated_ah: f64, table: &[(f64, f64)]) -> RateCurve {
        let mut knots: Vec<(f64, f64)> =
            table.iter().map(|&(hours, ah)| (ah / hours / rated_ah, ah / rated_ah)).collect();
        knots.sort_by(|a, b| a.0.total_cmp(&b.0));
        RateCurve { knots, slope_std_dev: TABLE_SLOPE_STD_DEV, source: RateSource::Table(table.to_vec()) }
    }

    /// What the curve was made from.
    #[must_use]
    pub const fn source(&self) -> &RateSource {
        &self.source
    }

    /// Capacity at `c_rate` (A per Ah of rated capacity, ≥ 0) in parts of the rated capacity.
    #[must_use]
    pub fn capacity_ratio(&self, c_rate: f64) -> f64 {
        let (first_rate, first_capacity) = self.knots[0];
        if c_rate <= first_rate || self.knots.len() < 2 {
            return first_capacity;
        }
        let upper = self.knots.iter().position(|k| k.0 >= c_rate).unwrap_or(self.knots.len() - 1);
        let (low, high) = (self.knots[upper - 1], self.knots[upper]);
        let slope = (high.1 / low.1).ln() / (high.0 / low.0).ln();
        low.1 * (c_rate / low.0).powf(slope)
    }

    /// 1 σ of [`Self::capacity_ratio`], in parts of the rated capacity: grows with the distance from the slowest point.
    #[must_use]
    pub fn capacity_ratio_std_dev(&self, c_rate: f64) -> f64 {
        let distance = (c_rate / self.knots[0].0).ln().max(0.0);
        self.capacity_ratio(c_rate) * self.slope_std_dev * distance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_curve_from_an_exponent_is_peukerts_law_above_the_rated_current() {
        let curve = RateCurve::from_exponent(20.0, 1.2, 0.02, 0.0);
        for current in [6.0, 10.0, 50.0, 100.0] {
            let by_law = current * peukert_hours(100.0, 20.0, 1.2, current) / 100.0;
            assert!((curve.capacity_ratio(current / 100.0) - by_law).abs() < 1e-9, "{current} A");
        }
    }

    #[test]
    fn below_the_rated_current_capacity_grows_no_more() {
        let curve = RateCurve::from_exponent(20.0, 1.3, 0.02, 0.0);
        assert!((curve.capacity_ratio(0.001) - 1.0).abs() < 1e-12);
        assert!(curve.capacity_ratio_std_dev(0.001).abs() < 1e-12);
    }

    #[test]
    fn a_table_is_met_at_its_points_and_goes_on_with_its_last_slope() {
        let curve = RateCurve::from_table(120.0, &[(1.0, 93.0), (20.0, 120.0), (10.0, 117.0)]);
        assert!((curve.capacity_ratio(93.0 / 120.0) - 93.0 / 120.0).abs() < 1e-12);
        assert!((curve.capacity_ratio(11.7 / 120.0) - 117.0 / 120.0).abs() < 1e-12);
        assert!(curve.capacity_ratio(2.0) < 93.0 / 120.0);
        assert!(curve.capacity_ratio_std_dev(2.0) > curve.capacity_ratio_std_dev(0.1));
    }
}
