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
    if !(confidence > 0.0 && confidence < 1.0) {
        return None;
    }
    let points = thinned(points, MOST_POINTS);
    let mut slopes: Vec<f64> = slopes(&points).map(|(slope, _)| slope).collect();
    let slope = median(&mut slopes)?;
    let [mut xs, mut ys] = columns(&points);
    let intercept = median(&mut ys)? - slope * median(&mut xs)?;
    // Kendall's score has this variance where there is no trend; `xs` and `ys` are sorted by now.
    let score_std_dev = ((pairs_variance(count_f64(xs.len())) - ties(&xs) - ties(&ys)) / 18.0).max(0.0).sqrt();
    let z = normal_quantile(f64::midpoint(1.0, confidence));
    let count = count_f64(slopes.len());
    let reach = z * score_std_dev;
    let low = rank(((count - reach) / 2.0).round_ties_even() - 1.0, slopes.len());
    let high = rank(((count + reach) / 2.0).round_ties_even(), slopes.len());
    Some(Line { slope, intercept, slope_range: Range { low: slopes[low], high: slopes[high] } })
}

/// The same for points (x, y) that are not equally sure, with (x, 1 σ) in the same order: the median weighs each slope by the
/// inverse of the sum of both variances. Where all are alike it is the same line.
///
/// They may not be independent either: `run` neighbours say together what one independent point would, and the variance of
/// Kendall's score grows by that factor (as in K. H. Hamed & A. R. Rao, J. Hydrology 204 (1998) 182). Its range counts as many
/// points as would say as much if they were alike (L. Kish, Survey Sampling, 1965, from memory).
pub(crate) fn theil_sen_weighed(
    points: &[(f64, f64)],
    stated: &[(f64, f64)],
    confidence: f64,
    run: f64,
) -> Option<Line> {
    let all = count_f64(points.len());
    // Both are brought down by the same groups of neighbours.
    let [points, stated] = [points, stated].map(|pairs| thinned(pairs, MOST_POINTS));
    let run = (run * count_f64(points.len()) / all).max(1.0);
    let variances: Vec<f64> = stated.iter().map(|(_, std_dev)| std_dev * std_dev).collect();
    let mut slopes: Vec<(f64, f64)> =
        slopes(&points).map(|(slope, [i, j])| (slope, (variances[i] + variances[j]).recip())).collect();
    slopes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let sure: Vec<f64> = variances.iter().map(|variance| variance.recip()).collect();
    let worth = sure.iter().sum::<f64>().powi(2) / sure.iter().map(|sure| sure * sure).sum::<f64>();
    let z = normal_quantile(f64::midpoint(1.0, confidence));
    let reach = z * (pairs_variance(worth) / 18.0 * run).sqrt() / (worth * (worth - 1.0) / 2.0).max(1.0);
    let slope = weighted_quantile(&slopes, 0.5)?;
    let [low, high] = [-reach, reach].map(|reach| weighted_quantile(&slopes, 0.5 + reach / 2.0));
    let middle = |values: Vec<f64>| {
        let mut weighed: Vec<(f64, f64)> = values.into_iter().zip(sure.iter().copied()).collect();
        weighed.sort_by(|a, b| a.0.total_cmp(&b.0));
        weighted_quantile(&weighed, 0.5)
    };
    let [xs, ys] = columns(&points);
    let intercept = middle(ys)? - slope * middle(xs)?;
    Some(Line { slope, intercept, slope_range: Range { low: low?, high: high? } })
}

/// The slopes between any two of the points, which lie in the order of x, with the places of both.
fn slopes(points: &[(f64, f64)]) -> impl Iterator<Item = (f64, [usize; 2])> + '_ {
    points.iter().enumerate().flat_map(move |(i, a)| {
        let later = points.iter().enumerate().skip(i + 1).filter(|(_, b)| b.0 > a.0);
        later.map(move |(j, b)| ((b.1 - a.1) / (b.0 - a.0), [i, j]))
    })
}

fn columns(points: &[(f64, f64)]) -> [Vec<f64>; 2] {
    [points.iter().map(|p| p.0).collect(), points.iter().map(|p| p.1).collect()]
}

/// The value below which a part of the weight lies, of sorted (value, weight); between two where it lies just between them.
fn weighted_quantile(sorted: &[(f64, f64)], part: f64) -> Option<f64> {
    let total: f64 = sorted.iter().map(|(_, weight)| weight).sum();
    let wanted = part.clamp(0.0, 1.0) * total;
    let mut sum = 0.0;
    let place = sorted.iter().position(|(_, weight)| {
        sum += weight;
        sum >= wanted - 1e-12 * total
    })?;
    let here = sorted[place].0;
    let halfway = (sum - wanted).abs() <= 1e-12 * total;
    Some(if halfway { f64::midpoint(here, sorted.get(place + 1).map_or(here, |next| next.0)) } else { here })
}

/// A whole number as a place in a list that is not empty.
fn rank(at: f64, length: usize) -> usize {
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a whole number inside 0..length")]
    let rank = at.clamp(0.0, count_f64(length) - 1.0) as usize;
    rank
}

/// `n (n - 1) (2 n + 5)`.
fn pairs_variance(n: f64) -> f64 {
    n * (n - 1.0) * (2.0 * n + 5.0)
}

/// What equal values among sorted ones take off.
#[expect(clippy::float_cmp, reason = "ties are equal values")]
fn ties(sorted: &[f64]) -> f64 {
    sorted.chunk_by(|a, b| a == b).map(|equal| pairs_variance(count_f64(equal.len()))).sum()
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
    fn points_alike_have_the_classical_line_and_unsure_ones_do_not_outvote_sure_ones() {
        let points: Vec<(f64, f64)> =
            (0..9).map(f64::from).map(|x| (x, 1.0 - 0.02 * x + 0.01 * (x * 2.1).sin())).collect();
        let alike: Vec<(f64, f64)> = points.iter().map(|p| (p.0, 0.01)).collect();
        let (plain, weighed) =
            (theil_sen(&points, 0.95).unwrap(), theil_sen_weighed(&points, &alike, 0.95, 1.0).unwrap());
        assert!((plain.slope - weighed.slope).abs() < 1e-12 && (plain.intercept - weighed.intercept).abs() < 1e-12);
        let ranges = [plain, weighed].map(|line| line.slope_range.high - line.slope_range.low);
        assert!((ranges[0] / ranges[1] - 1.0).abs() < 0.2, "{ranges:?}");
        // Each is joined by three others that tell of no fall at all, a tenth as sure.
        let crowd = |of: fn(&(f64, f64)) -> (f64, f64), all: &[(f64, f64)]| -> Vec<(f64, f64)> {
            all.iter().flat_map(|p| [*p, of(p), of(p), of(p)]).collect()
        };
        let points = crowd(|p| (p.0, 1.0), &points);
        let stated = crowd(|p| (p.0, 0.1), &alike);
        let weighed = theil_sen_weighed(&points, &stated, 0.95, 1.0).unwrap();
        assert!((weighed.slope + 0.02).abs() < 0.004, "{weighed:?}");
        assert!(theil_sen(&points, 0.95).unwrap().slope > -0.01, "each with one vote");
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
