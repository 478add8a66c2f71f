//! Capacity: every finding, and what they tell together.

use super::stored::Dated;
use super::views::{CapacityNowView, CapacityView, FindingView};
use crate::battery::Bank;
use crate::health::CapacityFinding;
use crate::quantity::UtcMs;
use crate::review::values::{BandView, rfc3339};

/// All findings, and the capacity as they tell it together now.
pub(super) fn capacity_view(bank: &Bank, findings: &[Dated<CapacityFinding>], now: Option<UtcMs>) -> CapacityView {
    let latest = findings.iter().rev().find_map(|dated| {
        let later_s = now.map_or(0.0, |now| now.seconds_since(dated.to));
        let band = BandView::from(dated.it.combined_after(later_s)?);
        let ratio = band.scaled(1.0 / bank.rated_capacity_ah);
        Some(CapacityNowView {
            value: band.value,
            low: band.low,
            high: band.high,
            ratio: ratio.value,
            ratio_low: ratio.low,
            ratio_high: ratio.high,
            time: rfc3339(dated.to),
        })
    });
    CapacityView { latest, findings: findings.iter().map(finding_view).collect() }
}

fn finding_view(dated: &Dated<CapacityFinding>) -> FindingView {
    let finding = &dated.it;
    FindingView {
        time: rfc3339(dated.to),
        from: dated.from.and_then(rfc3339),
        watched: finding.watched.word(),
        charge_ah: finding.charge_ah,
        load_a: finding.load_a,
        temperature_c: finding.temperature_c,
        raw_ah: finding.raw_ah.into(),
        rated_ah: finding.rated_ah.into(),
        corrected_ah: finding.for_trend_ah().into(),
        combined_ah: finding.combined_ah.map(BandView::from),
        believed: finding.believed,
        law: finding.law.clone(),
    }
}
