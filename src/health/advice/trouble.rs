//! What is wrong, or is to be looked at.

use super::{Advice, Evidence};
use crate::battery::{Chemistry, Family};
use crate::quantity::Z95;

/// Times its own error and the stated one that an offset must be.
const OFFSET_SURE: f64 = 3.0;
/// See above.
const OFFSET_BEYOND: f64 = 2.0;
/// Fall of the efficiency that matters (common practice, no source).
const EFFICIENCY_FALL: f64 = 0.02;

pub(super) fn connection(evidence: &Evidence) -> Option<Advice> {
    evidence.connection.as_ref().map(|told| Advice {
        rule: "connection",
        priority: "warning",
        title: "Have the connections inspected".to_owned(),
        reason: "A connection that has become resistive heats up under load and can start a fire.",
        evidence: told.clone(),
        action: "Keep heavy loads off. With the bank isolated, have terminals and links cleaned and tightened to the maker's \
                 torque by somebody who knows high-current DC.",
        source: "Common practice, no source",
    })
}

pub(super) fn weak_monobloc(evidence: &Evidence) -> Option<Advice> {
    let weak = evidence.weak?;
    let band = weak.shortfall.band();
    Some(Advice {
        rule: "weak-monobloc",
        priority: "warning",
        title: format!("Monobloc {} is weak", weak.monobloc),
        reason: "The weakest of a string ends its discharge and is overcharged by the others.",
        evidence: format!(
            "About {:.0} % less than the others ({:.0} to {:.0} %), from its voltage against depth.",
            100.0 * weak.shortfall.value,
            100.0 * band.low.max(0.0),
            100.0 * band.high
        ),
        action: "Charge fully and balance. If it stays behind, have it tested by itself and replaced; a string is best \
                 renewed as a whole when it is old.",
        source: "Same charge through all of a string; threshold: common practice, no source",
    })
}

pub(super) fn sensor_drift(evidence: &Evidence) -> Option<Advice> {
    let offset = evidence.offset_a?;
    let size = offset.value.abs();
    (size > OFFSET_SURE * offset.std_dev && size > OFFSET_BEYOND * evidence.stated_offset_a).then(|| Advice {
        rule: "sensor-drift",
        priority: "caution",
        title: "The current sensor's zero has moved".to_owned(),
        reason: "An offset adds up: it shifts the count day by day until the bank is full again.",
        evidence: format!(
            "{:+.2} A (±{:.2} A) at zero, from the charge between full charges; {:.2} A is stated.",
            offset.value,
            Z95 * offset.std_dev,
            evidence.stated_offset_a
        ),
        action: "Set the sensor's zero while nothing flows, and look at its wiring and ground.",
        source: "Charge in and out between two full charges",
    })
}

pub(super) fn unaccounted_load(evidence: &Evidence) -> Option<Advice> {
    let current = evidence.unaccounted_a?;
    (current.band().high < 0.0).then(|| Advice {
        rule: "unaccounted-load",
        priority: "caution",
        title: "Something draws charge that no branch accounts for".to_owned(),
        reason: "A load that nobody knows of empties a bank that lies for weeks.",
        evidence: format!(
            "{:.2} A (±{:.2} A) beside the measured branches: {:.0} Ah a day.",
            -current.value,
            Z95 * current.std_dev,
            -24.0 * current.value
        ),
        action: "Switch off one circuit after the other and watch the bank's current; a sensor whose zero has moved looks \
                 the same.",
        source: "Sum of currents; error from the sensors' stated offsets",
    })
}

pub(super) fn efficiency_falling(evidence: &Evidence) -> Option<Advice> {
    let (now, before) = (evidence.efficiency?, evidence.efficiency_before?);
    let fall = before.value - now.value;
    let sure = fall > EFFICIENCY_FALL.max(Z95 * now.std_dev.hypot(before.std_dev));
    sure.then(|| Advice {
        rule: "efficiency-falling",
        priority: "caution",
        title: "Charging has become less efficient".to_owned(),
        reason: if evidence.chemistry.family() == Family::Lead {
            "More of the charge goes into gas and heat: age, too high a voltage, or a monobloc that leaks charge."
        } else {
            "Lithium cells give back almost all that is put in; less means a leak, a cell that ages, or a sensor that errs."
        },
        evidence: format!("{:.1} % now, {:.1} % before.", 100.0 * now.value, 100.0 * before.value),
        action: "Check the chargers' voltages and their temperature compensation, and the balance of the monoblocs.",
        source: "Charge out over charge in between full charges; threshold: common practice, no source",
    })
}

pub(super) fn test_due(evidence: &Evidence) -> Option<Advice> {
    let days = evidence.days_to_test?;
    (days <= 0.0).then(|| Advice {
        rule: "test-due",
        priority: "note",
        title: "A capacity test is due".to_owned(),
        reason: "Only a test shows the capacity without a model in between.",
        evidence: format!("Due for {:.0} days.", -days),
        action: "Charge fully, let it rest, then run the guided test on a day in harbour, with somebody beside it.",
        source: if matches!(evidence.chemistry, Chemistry::Flooded) {
            "Intervals of IEEE 450, as cited by trade pages"
        } else if evidence.chemistry.family() == Family::Lead {
            "Intervals of IEEE 1188, as cited by trade pages (12 to 18 months)"
        } else {
            "Common practice, no source: as for lead"
        },
    })
}
