//! Quantities in the sentences of the API.

/// A current: `23.8 A`, `0.45 A`.
pub fn current(a: f64) -> String {
    if a < 1.0 {
        format!("{a:.2} A")
    } else if a < 99.95 {
        format!("{a:.1} A")
    } else {
        format!("{a:.0} A")
    }
}

/// A charge: `8.4 Ah`, `84 Ah`.
pub fn charge(ah: f64) -> String {
    format!("{ah:.*} Ah", charge_decimals(ah))
}

/// A range of charges: `79 to 91 Ah`, or one charge where both ends read the same.
pub fn charge_range(low_ah: f64, high_ah: f64) -> String {
    range(low_ah, high_ah, charge_decimals(high_ah), "Ah")
}

/// A range of durations in minutes, hours or days by its upper end.
pub fn durations(low_s: f64, high_s: f64) -> String {
    const MINUTE: f64 = 60.0;
    const HOUR: f64 = 3600.0;
    let (unit_s, unit) = match high_s {
        s if s < 100.0 * MINUTE => (MINUTE, "min"),
        s if s < 72.0 * HOUR => (HOUR, "h"),
        _ => (24.0 * HOUR, "days"),
    };
    let high = high_s / unit_s;
    range(low_s / unit_s, high, usize::from(unit != "min" && high < 10.0), unit)
}

/// A duration in whole minutes, or hours from 100 minutes on.
pub fn minutes(s: f64) -> String {
    if s < 6000.0 { format!("{:.0} min", (s / 60.0).max(1.0)) } else { format!("{:.1} h", s / 3600.0) }
}

fn charge_decimals(ah: f64) -> usize {
    usize::from(ah < 9.95)
}

/// Rounded outward, so that no range is made to look narrower than it is.
fn range(low: f64, high: f64, decimals: usize, unit: &str) -> String {
    let scale = if decimals == 0 { 1.0 } else { 10.0 };
    let low = format!("{:.decimals$}", (low * scale + 1e-9).floor() / scale);
    let high = format!("{:.decimals$}", (high * scale - 1e-9).ceil() / scale);
    if low == high { format!("{high} {unit}") } else { format!("{low} to {high} {unit}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_rounded_outward_and_meet_where_they_read_the_same() {
        assert_eq!(charge_range(79.2, 90.1), "79 to 91 Ah");
        assert_eq!(charge_range(3.21, 3.29), "3.2 to 3.3 Ah");
        assert_eq!(charge_range(80.0, 80.0), "80 Ah");
    }

    #[test]
    fn a_duration_has_the_unit_that_its_end_deserves() {
        assert_eq!(durations(610.0, 1490.0), "10 to 25 min");
        assert_eq!(durations(4.0 * 3600.0, 5.5 * 3600.0), "4.0 to 5.5 h");
        assert_eq!(durations(0.0, 96.0 * 3600.0), "0.0 to 4.0 days");
        assert_eq!((minutes(20.0).as_str(), minutes(7200.0).as_str()), ("1 min", "2.0 h"));
    }
}
