//! Heat and frost.

use super::{Advice, Evidence};
use crate::battery::Family;

/// Mean temperature from which lead is too hot, °C: its life halves for each 8 K above 25 °C.
const HOT_LEAD_C: f64 = 30.0;
/// The same for lithium (common practice, no source).
const HOT_LITHIUM_C: f64 = 35.0;
/// Part of the time at 40 °C and above (common practice, no source).
const HOT_TIME: f64 = 0.05;
/// Charge put in below freezing that is no error of a sensor, in parts of the capacity (assumed).
const COLD_CHARGE: f64 = 0.01;
/// Part of the time nearly full, and mean temperature with it, from which lithium ages by lying there (common practice, no
/// source).
const LIES_FULL: f64 = 0.5;
/// See above.
const WARM_C: f64 = 28.0;

pub(super) fn too_hot(evidence: &Evidence) -> Option<Advice> {
    let (mean_c, hot) = (evidence.temperature_c?, evidence.hot?);
    let lead = evidence.chemistry.family() == Family::Lead;
    let (limit_c, reason, source) = if lead {
        (
            HOT_LEAD_C,
            "The life of a lead battery halves for each 8 K above 25 °C.",
            "Life by temperature: two trade pages, \"10 years at 25 °C … 5 years at 33 °C\"; limits: common practice, no source",
        )
    } else {
        (
            HOT_LITHIUM_C,
            "Iron phosphate gave 3500 cycles at 25 °C and 1800 at 45 °C.",
            "Cycles: data sheet of a 304 Ah cell; limits: common practice, no source",
        )
    };
    (mean_c > limit_c || hot > HOT_TIME).then(|| Advice {
        rule: "too-hot",
        priority: "caution",
        title: "The bank is too warm".to_owned(),
        reason,
        evidence: format!("Mean {mean_c:.0} °C; {:.0} % of the time at 40 °C and above.", 100.0 * hot),
        action: "Bring cooler air to the bank, move heat sources away, lower the charging current; see that the chargers \
                 compensate their voltage for temperature.",
        source,
    })
}

pub(super) fn charged_in_frost(evidence: &Evidence) -> Option<Advice> {
    let charge_ah = evidence.cold_charge_ah?;
    let lithium = evidence.chemistry.family() == Family::Lithium;
    (lithium && charge_ah > COLD_CHARGE * evidence.rated_ah).then(|| Advice {
        rule: "charged-in-frost",
        priority: "warning",
        title: "Charged below 0 °C".to_owned(),
        reason: "Below 0 °C metallic lithium is laid down: capacity is lost for good, and the cell may short inside.",
        evidence: format!("{charge_ah:.1} Ah went in below 0 °C."),
        action: "Keep chargers off until the cells are warm; have the protection's low-temperature cut-off checked.",
        source: "Cell makers' specifications: \"it is prohibited to charge below 0 °C\"",
    })
}

pub(super) fn full_and_warm(evidence: &Evidence) -> Option<Advice> {
    let (full, mean_c) = (evidence.nearly_full?, evidence.temperature_c?);
    let lithium = evidence.chemistry.family() == Family::Lithium;
    (lithium && full > LIES_FULL && mean_c > WARM_C).then(|| Advice {
        rule: "full-and-warm",
        priority: "note",
        title: "Long times full and warm".to_owned(),
        reason: "Lithium cells age while they lie, faster the fuller and the warmer they are.",
        evidence: format!("{:.0} % of the time above 90 % of charge, at a mean of {mean_c:.0} °C.", 100.0 * full),
        action: "Lay the boat up half charged and disconnected; charge to full before it is needed and for balancing.",
        source: "Common practice, no source",
    })
}
