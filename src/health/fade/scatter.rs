//! What the points say of their own scatter, and the few bins that the fits go by.

use crate::health::robust::{SIGMA_OF_MAD, median};

use super::Point;
use super::theil_sen::count_f64;
use super::thin::{of_group, thinned};

/// The smoothing and its leftovers are worked out on at most so many points.
const MOST_POINTS: usize = 400;
/// The fits go by at most so many bins.
const MOST_BINS: usize = 30;
/// Part of the span over which the smoothing takes the points for a straight line.
const REACH: f64 = 0.5;
/// No finding is surer than this, parts of the rating [assumed].
const LEAST_STD_DEV: f64 = 1e-4;
/// Findings that are less sure by more than this factor than those that know most, and in a bin than the surest of it, are left out
/// [assumed]: by their number they would outvote what is known, and unsure ones mostly err alike.
const MUCH_SURER: f64 = 2.0;

/// Capacity around one x.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bin {
    pub x: f64,
    pub ratio: f64,
    pub std_dev: f64,
}

/// The points in few words.
#[derive(Debug, Clone)]
pub(super) struct Digest {
    /// What can be used, as (x, ratio), in the order of x.
    pub pairs: Vec<(f64, f64)>,
    /// 1 σ of each as stated, as (x, 1 σ).
    pub stated: Vec<(f64, f64)>,
    /// In the order of x.
    pub bins: Vec<Bin>,
    /// So many neighbouring points say together what an independent one would; 1 or more.
    pub run: f64,
    /// The same for neighbouring bins.
    pub bins_alike: f64,
}

/// Sorts, drops what is not finite, and brings the rest down to bins of equal width in x.
///
/// Standard deviations are the stated ones, or all of them greater by one factor where the points scatter more around a local line. Where
/// neighbours err alike, a bin gains less from their number, down to nothing.
pub(super) fn digest(points: &[Point]) -> Digest {
    let usable = |p: &&Point| p.x.is_finite() && p.ratio.is_finite() && p.std_dev.is_finite() && p.std_dev >= 0.0;
    let floored = |p: &Point| Point { std_dev: p.std_dev.max(LEAST_STD_DEV), ..*p };
    let mut taken: Vec<Point> = points.iter().filter(usable).map(floored).collect();
    let enough = enough_known(&mut taken);
    taken.retain(|p| p.std_dev <= enough);
    taken.sort_by(|a, b| a.x.total_cmp(&b.x));
    let (Some(first), Some(last)) = (taken.first().copied(), taken.last().copied()) else {
        return Digest { pairs: Vec::new(), stated: Vec::new(), bins: Vec::new(), run: 1.0, bins_alike: 1.0 };
    };
    let pairs: Vec<(f64, f64)> = taken.iter().map(|p| (p.x, p.ratio)).collect();
    let stated: Vec<(f64, f64)> = taken.iter().map(|p| (p.x, p.std_dev)).collect();
    let (factor, run) = scatter(&pairs, &stated);
    let width = (last.x - first.x) / count_f64(MOST_BINS);
    let bins: Vec<Bin> = taken
        .chunk_by(|a, b| width <= 0.0 || bin_of(a.x - first.x, width) == bin_of(b.x - first.x, width))
        .filter_map(|group| bin(group, factor, run))
        .collect();
    let bins_alike = (run * count_f64(bins.len()) / count_f64(taken.len())).max(1.0);
    Digest { pairs, stated, bins, run, bins_alike }
}

/// The greatest standard deviation that is of use: twice that of the findings that carry half of all that is known (by inverse
/// variance), or more where fewer than six findings would be left. Leaves the points in the order of their standard deviations.
fn enough_known(points: &mut [Point]) -> f64 {
    points.sort_by(|a, b| a.std_dev.total_cmp(&b.std_dev));
    let known = |p: &Point| p.std_dev.powi(-2);
    let all: f64 = points.iter().map(known).sum();
    let mut sum = 0.0;
    let half = points.iter().find(|p| {
        sum += known(p);
        sum >= 0.5 * all
    });
    let least = points.get(super::LEAST_POINTS - 1).or(points.last()).map_or(0.0, |p| p.std_dev);
    half.map_or(0.0, |p| MUCH_SURER * p.std_dev).max(least)
}

/// Number of the bin, as a whole real number; the last point belongs to the last bin.
fn bin_of(x: f64, width: f64) -> u8 {
    (0_u8..).zip(1..MOST_BINS).find(|&(_, next)| x < width * count_f64(next)).map_or(u8::MAX, |(i, _)| i)
}

fn bin(group: &[Point], factor: f64, run: f64) -> Option<Bin> {
    let surest = group.iter().map(|p| p.std_dev).fold(f64::INFINITY, f64::min);
    let kept: Vec<&Point> = group.iter().filter(|p| p.std_dev <= MUCH_SURER * surest).collect();
    let (x, ratio) = of_group(&kept.iter().map(|p| (p.x, p.ratio)).collect::<Vec<_>>())?;
    let stated = median(&mut kept.iter().map(|p| p.std_dev).collect::<Vec<_>>())?;
    let independent = (count_f64(kept.len()) / run).max(1.0);
    Some(Bin { x, ratio, std_dev: stated * factor / independent.sqrt() })
}

/// By how much the points scatter more around a local line than their stated standard deviations, (x, 1 σ), say; 1 or
/// more. And how long a run of neighbours errs alike.
fn scatter(points: &[(f64, f64)], stated: &[(f64, f64)]) -> (f64, f64) {
    let all = count_f64(points.len());
    // Both are brought down by the same groups of neighbours.
    let [points, stated] = [points, stated].map(|pairs| thinned(pairs, MOST_POINTS));
    if points.len() < 8 {
        return (1.0, 1.0);
    }
    let mut left: Vec<f64> = points.iter().zip(&stated).map(|(p, s)| (p.1 - smooth_at(&points, p.0)) / s.1).collect();
    let run = run_length(&left) * all / count_f64(points.len());
    left.iter_mut().for_each(|e| *e = e.abs());
    ((median(&mut left).unwrap_or(0.0) * SIGMA_OF_MAD).max(1.0), run)
}

/// The local line at `x`: weights fall with distance as the cube of cubes (W. S. Cleveland, J. Am. Stat. Assoc. 74 (1979) 829),
/// and once more for points far off the first line.
pub(super) fn smooth_at(points: &[(f64, f64)], x: f64) -> f64 {
    let span = points.last().map_or(0.0, |p| p.0) - points.first().map_or(0.0, |p| p.0);
    // At least the eight nearest, whatever the span.
    let mut distances: Vec<f64> = points.iter().map(|p| (p.0 - x).abs()).collect();
    distances.sort_by(f64::total_cmp);
    let nearest = distances[distances.len().min(8) - 1];
    let reach = (REACH * span).max(nearest * 1.01).max(f64::MIN_POSITIVE);
    let near: Vec<(f64, f64, f64)> = points
        .iter()
        .map(|p| (p.0 - x, p.1, ((p.0 - x) / reach).abs()))
        .filter(|(_, _, d)| *d < 1.0)
        .map(|(dx, y, d)| (dx, y, (1.0 - d.powi(3)).powi(3)))
        .collect();
    let mut line = weighted_line(near.iter().copied());
    for _ in 0..2 {
        let mut sizes: Vec<f64> = near.iter().map(|(dx, y, _)| (y - line.0 - line.1 * dx).abs()).collect();
        let far = 6.0 * median(&mut sizes).unwrap_or(0.0);
        if far <= 0.0 {
            break;
        }
        line = weighted_line(near.iter().map(|&(dx, y, w)| {
            let e = ((y - line.0 - line.1 * dx) / far).abs().min(1.0);
            (dx, y, w * (1.0 - e * e).powi(2))
        }));
    }
    line.0
}

/// Value at 0 and slope of the line through (x, y, weight) by least squares; level where x does not vary.
fn weighted_line(points: impl Iterator<Item = (f64, f64, f64)>) -> (f64, f64) {
    let (mut w, mut x, mut y, mut xx, mut xy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for (dx, value, weight) in points {
        w += weight;
        x += weight * dx;
        y += weight * value;
        xx += weight * dx * dx;
        xy += weight * dx * value;
    }
    let spread = w * xx - x * x;
    let slope = if spread > 1e-12 * w * xx { (w * xy - x * y) / spread } else { 0.0 };
    if w > 0.0 { ((y - slope * x) / w, slope) } else { (0.0, 0.0) }
}

/// `1 + 2 (r1 + r2 + …)` up to the first correlation that is not positive, of errors cut to three times their median
/// size; so many neighbours are worth one independent point (A. D. Sokal's integrated autocorrelation time).
fn run_length(errors: &[f64]) -> f64 {
    let cut = 3.0 * SIGMA_OF_MAD * median(&mut errors.iter().map(|e| e.abs()).collect::<Vec<_>>()).unwrap_or(0.0);
    let errors: Vec<f64> = errors.iter().map(|e| e.clamp(-cut, cut)).collect();
    let variance: f64 = errors.iter().map(|e| e * e).sum();
    if variance <= 0.0 {
        return 1.0;
    }
    let correlation = |lag: usize| errors.iter().zip(&errors[lag..]).map(|(a, b)| a * b).sum::<f64>() / variance;
    let positive: f64 = (1..errors.len() / 3).map(correlation).take_while(|r| *r > 0.0).sum();
    1.0 + 2.0 * positive
}
