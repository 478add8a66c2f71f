//! The area under a straight line between two readings, its parts above and below zero kept apart.

/// What lies above zero (≥ 0) and below it (≤ 0) under the line from `before` to `value` over `seconds`, unit seconds. Where
/// the line crosses zero each side gets its own part.
#[must_use]
pub fn area_parts(before: f64, value: f64, seconds: f64) -> (f64, f64) {
    if before >= 0.0 && value >= 0.0 {
        ((before + value) / 2.0 * seconds, 0.0)
    } else if before <= 0.0 && value <= 0.0 {
        (0.0, (before + value) / 2.0 * seconds)
    } else {
        let until_zero_s = seconds * before / (before - value);
        let (first, last) = (before / 2.0 * until_zero_s, value / 2.0 * (seconds - until_zero_s));
        if before > 0.0 { (first, last) } else { (last, first) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_parts_add_up_to_the_trapezium() {
        for (before, value) in [(-1.0, 3.0), (3.0, -1.0), (2.0, 4.0), (-2.0, -4.0), (0.0, -5.0), (5.0, 0.0), (0.0, 0.0)] {
            let (above, below) = area_parts(before, value, 4.0);
            assert!(above >= 0.0 && below <= 0.0);
            assert!((above + below - (before + value) * 2.0).abs() < 1e-12, "{before} {value}");
        }
        assert_eq!(area_parts(-1.0, 3.0, 4.0), (4.5, -0.5));
    }
}
