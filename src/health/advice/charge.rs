//! Charging and discharging.

use super::{Advice, Evidence};
use crate::battery::{Chemistry, Family};

/// Days after which a lead bank should be full again (common practice, no source).
const FULL_EACH_DAYS: f64 = 7.0;
/// The same for lead with carbon, which bears partial charge (common practice, no source).
const FULL_EACH_DAYS_CARBON: f64 = 30.0;
/// Part of the days below which deep discharge is the exception (common practice, no source).
const OFTEN: f64 = 0.2;
/// Spread at the end of charge that calls for balancing, V for each cell of a monobloc (common practice, no source).
const SPREAD_LEAD_V: f64 = 0.03;
/// The same for lithium, whose cells differ by little until they are full.
const SPREAD_LITHIUM_V: f64 = 0.05;

pub(super) fn full_overdue(evidence: &Evidence) -> Option<Advice> {
    let days = evidence.days_since_full?;
    let each = match evidence.chemistry {
        Chemistry::LeadCarbon => FULL_EACH_DAYS_CARBON,
        Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded => FULL_EACH_DAYS,
        Chemistry::Lfp | Chemistry::Nmc => return None,
    };
    (days > each).then(|| Advice {
        rule: "full-recharge-overdue",
        priority: if days > 2.0 * each { "warning" } else { "caution" },
        title: "Charge until full".to_owned(),
        reason: "Sulphate that is not charged away hardens. Incomplete recharge is the main cause of early loss of capacity.",
        evidence: format!("Last full {days:.0} days ago; at least each {each:.0} days is usual for this chemistry."),
        action: "Charge until the tail current stays low at the absorption voltage, from shore or generator, for as long as \
                 it takes.",
        source: "Hund, Sandia: Capacity Loss in PV Batteries and Recovery Procedures; interval: common practice, no source",
    })
}

pub(super) fn too_deep(evidence: &Evidence) -> Option<Advice> {
    let lead = evidence.chemistry.family() == Family::Lead;
    let (often, deep) = if lead { (evidence.below_half?, "half") } else { (evidence.below_tenth?, "a tenth of") };
    (often > OFTEN).then(|| Advice {
        rule: "too-deep-too-often",
        priority: "caution",
        title: "Discharged deeply too often".to_owned(),
        reason: "Deep cycles use a bank up faster: sealed lead lasts about 1000 cycles to half its charge and 500 to a fifth.",
        evidence: format!("Below {deep} charge on {:.0} % of the days.", 100.0 * often),
        action: "Charge earlier, draw less, or plan for a larger bank.",
        source: "Cycles: battery retailers' tables; one day in five: common practice, no source",
    })
}

pub(super) fn equalise(evidence: &Evidence) -> Option<Advice> {
    let spread_v = evidence.charge_end_spread_v?;
    let limit_v = SPREAD_LEAD_V * evidence.cells_each;
    (evidence.chemistry == Chemistry::Flooded && spread_v > limit_v).then(|| Advice {
        rule: "equalise",
        priority: "note",
        title: "Equalise, if the maker allows it".to_owned(),
        reason: "Cells of a string drift apart; a controlled overcharge brings the lagging ones up to full.",
        evidence: spread_words(spread_v, limit_v),
        action: "Only within the maker's limits of voltage, current and time, with the charger's own function. It sets free \
                 much hydrogen and acid mist: ventilate, keep flames and sparks away, wear protection, check the level of \
                 the acid before and after, disconnect what does not stand the voltage.",
        source: "Common practice, no source; limits are the maker's",
    })
}

pub(super) fn balance(evidence: &Evidence) -> Option<Advice> {
    let spread_v = evidence.charge_end_spread_v?;
    let (each_v, action) = match evidence.chemistry {
        Chemistry::Flooded => return None,
        Chemistry::LeadCarbon | Chemistry::Agm | Chemistry::Gel => (
            SPREAD_LEAD_V,
            "Hold a full charge at the maker's absorption voltage for some hours more, once or twice. Never equalise sealed \
             lead: what it gasses is lost.",
        ),
        Chemistry::Lfp | Chemistry::Nmc => (
            SPREAD_LITHIUM_V,
            "Let the balancer work: hold the end of charge for as long as the maker allows, and see whether the spread falls.",
        ),
    };
    let limit_v = each_v * evidence.cells_each;
    (spread_v > limit_v).then(|| Advice {
        rule: "balance",
        priority: "note",
        title: "Balance the bank".to_owned(),
        reason: "The one that is full first ends the charge for all, and is overcharged; the last never gets full.",
        evidence: spread_words(spread_v, limit_v),
        action,
        source: "Common practice, no source",
    })
}

fn spread_words(spread_v: f64, limit_v: f64) -> String {
    format!("At the end of charge the monoblocs lie {spread_v:.2} V apart; {limit_v:.2} V is usual at most.")
}
