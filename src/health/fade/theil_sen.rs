//! The Theil-Sen line: the median of all slopes between two points, which three outliers in ten cannot move far.

use crate::battery::Range;
use crate::health::normal::normal_quantile;
use crate::health::robust::median;

use super::thin::thinned;

/// At most so many points are paired; more are brought down to medians of neighbours first, so that 10^4 points cost
/// 79,800 slopes and not 5 x 10^7.
const MOST_POINTS: usize = 400;

/// A straight line with the range of its slope.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Line {
    /// Change of y for each unit of x.
    pub slope: f64,
    /// y at x = 0.
    pub intercept: f64,
    /// Where the slope lies, at the confidence that was asked for.
    pub slope_range: Range,
}

impl Line {
    /// y at `x`.
    #[must_use]
    pub fn at(&self, x: f64) -> f64 {
        self.intercept + self.slope * x
    }
}

/// The Theil-Sen line of points (x, y) with the range that holds its slope with `confidence` (0..1), as
/// P. K. Sen, J. Am. Stat. Assoc. 63 (1968) 1379 gives it, corrected for ties; the line runs through the medians of x and y.
/// Points that are not finite are left out. More than 400 points are first brought down to 400 medians of neighbours in
/// x. `None` where fewer than two different x are left, or the confidence lies outside 0..1.
///
/// The range takes the points to be independent of each other.
#[must_use]
pub fn theil_sen(points: &[(f64, f64)], confidence: f64) -> Option<Line> {
    theil_sen_of_runs(points, confidence, 1.0)
}

/// The same for points that are not independent: `run` neighbours say together what one independent point would, and
/// the variance of Kendall's score grows by that factor (as in K. H. Hamed & A. R. Rao, J. Hydrology 204 (1998) 182).
pub(crate) fn theil_sen_of_runs(points: &[(f64, f64)], confidence: f64, run: f64) -> Option<Line> {
    if !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let all = count_f64(points.len());
    let points = thinned(points, MOST_POINTS);
    let run = (run * count_f64(points.len()) / all).max(1.0);
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (i, a) in points.iter().enumerate() {
        slopes.extend(points[i + 1..].iter().filter(|b| b.0 > a.0).map(|b| (b.1 - a.1) / (b.0 - a.0)));
    }
    let slope = median(&mut slopes)?;
    let [mut xs, mut ys] =
        [0, 1].map(|of| points.iter().map(|p| if of == 0 { p.0 } else { p.1 }).collect::<Vec<f64>>());
    let intercept = median(&mut ys)? - slope * median(&mut xs)?;
    // Kendall's score has this variance where there is no trend; `xs` and `ys` are sorted by now.
    let score_std_dev = ((pairs_variance(xs.len()) - ties(&xs) - ties(&ys)) / 18.0 * run).max(0.0).sqrt();
    let z = normal_quantile(f64::midpoint(1.0, confidence));
    let count = count_f64(slopes.len());
    let reach = z * score_std_dev;
    let low = rank(((count - reach) / 2.0).round_ties_even() - 1.0, slopes.len());
    let high = rank(((count + reach) / 2.0).round_ties_even(), slopes.len());
    Some(Line { slope, intercept, slope_range: Range { low: slopes[low], high: slopes[high] } })
}

/// A whole number as a place in a list that is not empty.
fn rank(at: f64, length: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number inside 0..length")]
    let rank = at.clamp(0.0, count_f64(length) - 1.0) as usize;
    rank
}

/// `n (n - 1) (2 n + 5)`.
fn pairs_variance(n: usize) -> f64 {
    let n = count_f64(n);
    n * (n - 1.0) * (2.0 * n + 5.0)
}

/// What equal values among sorted ones take off.
#[expect(clippy::float_cmp, reason = "ties are equal values")]
fn ties(sorted: &[f64]) -> f64 {
    sorted.chunk_by(|a, b| a == b).map(|equal| pairs_variance(equal.len())).sum()
}

#[expect(clippy::cast_precision_loss, reason = "counts far below 2^53")]
pub(super) fn count_f64(count: usize) -> f64 {
    count as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_wild_point_in_ten_moves_nothing() {
        let mut points: Vec<(f64, f64)> = (0..10).map(f64::from).map(|x| (x, 1.0 - 0.02 * x)).collect();
        points[7].1 = 30.0;
        let line = theil_sen(&points, 0.95).unwrap();
        assert!((line.slope + 0.02).abs() < 1e-9 && (line.at(0.0) - 1.0).abs() < 0.021, "{line:?}");
    }

    #[test]
    fn ten_thousand_points_are_brought_down_first() {
        let points: Vec<(f64, f64)> = (0..10_000).map(f64::from).map(|x| (x, 3.0 + 1e-3 * x)).collect();
        let line = theil_sen(&points, 0.95).unwrap();
        assert!((line.slope - 1e-3).abs() < 1e-9, "{line:?}");
    }

    #[test]
    fn no_line_through_one_place() {
        assert_eq!(theil_sen(&[(1.0, 2.0), (1.0, 3.0), (f64::NAN, 1.0)], 0.95), None);
        assert_eq!(theil_sen(&[], 0.95), None);
        assert_eq!(theil_sen(&[(1.0, 2.0), (2.0, 3.0)], 1.0), None);
    }
}
