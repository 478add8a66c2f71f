//! Long series made short enough for a chart.

/// Most points of a series in the record.
const MOST: usize = 400;

/// The series itself where it is short; of a long one, the middle of each few neighbours by `value`.
pub(super) fn thinned<T>(points: Vec<T>, value: impl Fn(&T) -> f64) -> Vec<T> {
    let each = points.len().div_ceil(MOST).max(1);
    if each == 1 {
        return points;
    }
    let mut rest = points.into_iter();
    let mut kept = Vec::with_capacity(MOST);
    loop {
        let mut few: Vec<T> = rest.by_ref().take(each).collect();
        if few.is_empty() {
            return kept;
        }
        few.sort_by(|a, b| value(a).total_cmp(&value(b)));
        kept.push(few.swap_remove(few.len() / 2));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_long_series_keeps_the_middle_of_each_few() {
        assert_eq!(thinned(vec![3.0, 1.0], |x| *x), [3.0, 1.0]);
        let long: Vec<f64> = (0..1200).map(|n| if n % 3 == 0 { 1e9 } else { f64::from(n) }).collect();
        let kept = thinned(long, |x| *x);
        assert_eq!(kept.len(), 400);
        assert!(kept.iter().all(|x| *x < 1200.0), "no outlier is the middle of three");
        assert!(kept.is_sorted());
    }
}
