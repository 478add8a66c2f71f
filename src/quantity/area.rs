//! What lies under the straight line between two samples.

/// The area above zero and the area below zero (not positive) under the line from `before` to `value` over `seconds`, unit
/// seconds. Where the line crosses zero each side gets its own part.
#[must_use]
pub fn areas(before: f64, value: f64, seconds: f64) -> (f64, f64) {
    if before >= 0.0 && value >= 0.0 {
        ((before + value) / 2.0 * seconds, 0.0)
    } else if before <= 0.0 && value <= 0.0 {
        (0.0, (before + value) / 2.0 * seconds)
    } else {
        let until_zero_s = seconds * before / (before - value);
        let parts = [before / 2.0 * until_zero_s, value / 2.0 * (seconds - until_zero_s)];
        (parts[0].max(parts[1]), parts[0].min(parts[1]))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_side_of_zero_gets_its_own_triangle() {
        let (above, below) = areas(-1.0, 3.0, 4.0);
        assert!((above - 4.5).abs() < 1e-12 && (below + 0.5).abs() < 1e-12);
        let (above, below) = areas(-2.0, -4.0, 2.0);
        assert!(above.abs() < 1e-12 && (below + 6.0).abs() < 1e-12);
    }
}
