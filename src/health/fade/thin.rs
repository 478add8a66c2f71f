//! Many points brought down to medians of neighbours.

use crate::health::robust::median;

/// The finite points in the order of x; where there are more than `most`, medians of x and y over equal counts of
/// neighbours.
pub(super) fn thinned(points: &[(f64, f64)], most: usize) -> Vec<(f64, f64)> {
    let mut sorted: Vec<(f64, f64)> = points.iter().copied().filter(|(x, y)| x.is_finite() && y.is_finite()).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    if sorted.len() <= most {
        return sorted;
    }
    (0..most).filter_map(|i| of_group(&sorted[i * sorted.len() / most..(i + 1) * sorted.len() / most])).collect()
}

/// Median of x and median of y; `None` of nothing.
pub(super) fn of_group(group: &[(f64, f64)]) -> Option<(f64, f64)> {
    let x = median(&mut group.iter().map(|p| p.0).collect::<Vec<_>>())?;
    let y = median(&mut group.iter().map(|p| p.1).collect::<Vec<_>>())?;
    Some((x, y))
}
