//! Middles that a few wild values do not move.

use crate::quantity::Estimate;

/// 1 σ of a normal distribution over its median absolute deviation: 1 / Φ⁻¹(3/4). Source: tables of the normal distribution.
pub(super) const SIGMA_OF_MAD: f64 = 1.4826;
/// 1 σ of a median over that of a mean, for many values of a normal distribution: √(π/2).
const MEDIAN_OVER_MEAN: f64 = 1.2533;

/// The median, the values being put in order; `None` of none.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let half = values.len() / 2;
    let upper = *values.get(half)?;
    Some(if values.len() % 2 == 1 { upper } else { f64::midpoint(values[half - 1], upper) })
}

/// Median and the spread of the values (1 σ, from the median absolute deviation). `None` of none.
pub(super) fn middle_and_spread(values: &[f64]) -> Option<(f64, f64)> {
    let middle = median(&mut values.to_vec())?;
    let mut distances: Vec<f64> = values.iter().map(|value| (value - middle).abs()).collect();
    Some((middle, SIGMA_OF_MAD * median(&mut distances)?))
}

/// The median of values that each have an error, and the error of that median: from their scatter or from what they say
/// of themselves, whichever is more. `None` of none.
pub(super) fn centre(values: &[Estimate]) -> Option<Estimate> {
    let bare: Vec<f64> = values.iter().map(|value| value.value).collect();
    let (value, spread) = middle_and_spread(&bare)?;
    let stated = median(&mut values.iter().map(|value| value.std_dev).collect::<Vec<_>>())?;
    let n = values.len() as f64;
    let of_many = if values.len() > 1 { MEDIAN_OVER_MEAN / n.sqrt() } else { 1.0 };
    Some(Estimate { value, std_dev: spread.max(stated) * of_many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wild_value_moves_neither_middle_nor_error_far() {
        let of = |wild: f64| {
            let values = [1.0, 1.1, 0.9, 1.05, 0.95, wild].map(|value| Estimate { value, std_dev: 0.01 });
            centre(&values).expect("some")
        };
        assert!((of(1.0).value - of(1000.0).value).abs() < 0.05, "{:?}", of(1000.0));
        assert!(of(1000.0).std_dev < 0.1);
    }

    /// 1.4826 and √(π/2): the spread of a normal sample, here its quantiles at (i - 1/2)/n by the table of Φ⁻¹.
    #[test]
    fn the_spread_of_normal_values_is_their_standard_deviation() {
        // Φ⁻¹ at 0.1, 0.3, 0.5, 0.7, 0.9 (tables of the normal distribution): 1.2816, 0.5244, 0.
        let (middle, spread) = middle_and_spread(&[-1.2816, -0.5244, 0.0, 0.5244, 1.2816]).expect("some");
        assert!(middle.abs() < 1e-12 && (spread - 1.4826 * 0.5244).abs() < 1e-9, "{middle} {spread}");
    }
}
