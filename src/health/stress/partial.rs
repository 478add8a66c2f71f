//! For lead: how long a bank was left partly charged. An indicator; nobody has shown what part of a life it takes.

/// Exposure to partial charge. Incomplete recharge is the predominant cause of early loss of capacity in lead (T. Hund, Sandia
/// National Laboratories, Capacity Loss in PV Batteries and Recovery Procedures; read).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PartialCharge {
    /// Charge missing on average over time, as a part of the capacity.
    pub missing: f64,
    /// Part of the time below half.
    pub below_half: f64,
    /// Days since full; `None` if it was never seen full.
    pub days_since_full: Option<f64>,
}

/// From the seconds spent in each tenth of the state of charge, the lowest first, each taken at its middle. `None` where no time was seen.
#[must_use]
pub fn partial_charge(tenths_s: &[f64; 10], days_since_full: Option<f64>) -> Option<PartialCharge> {
    let total: f64 = tenths_s.iter().sum();
    let missing: f64 = (0..10_u8).zip(tenths_s).map(|(i, s)| s * (0.95 - f64::from(i) / 10.0)).sum();
    let below_half: f64 = tenths_s[..5].iter().sum();
    (total > 0.0).then(|| PartialCharge { missing: missing / total, below_half: below_half / total, days_since_full })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn half_the_time_low_and_half_of_it_high() {
        let mut tenths = [0.0; 10];
        (tenths[2], tenths[9]) = (3600.0, 3600.0);
        let exposure = partial_charge(&tenths, Some(12.0)).unwrap();
        assert!((exposure.missing - 0.4).abs() < 1e-12 && (exposure.below_half - 0.5).abs() < 1e-12, "{exposure:?}");
        assert_eq!(partial_charge(&[0.0; 10], None), None);
    }
}
