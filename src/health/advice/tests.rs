use super::*;
use crate::battery::Chemistry;
use crate::health::balance::Weak;
use crate::health::toys::{drive_bank, minute};
use crate::quantity::Estimate;

fn nothing(chemistry: Chemistry) -> Evidence {
    Evidence::of(&drive_bank(chemistry), &Recent::default())
}

fn estimate(value: f64, std_dev: f64) -> Option<Estimate> {
    Some(Estimate { value, std_dev })
}

/// Evidence that speaks for every rule its chemistry has.
fn everything(chemistry: Chemistry) -> Evidence {
    Evidence {
        days_since_full: Some(40.0),
        days_to_test: Some(-12.0),
        connection: Some("monobloc 2 has risen by 40 %".to_owned()),
        temperature_c: Some(36.0),
        hot: Some(0.1),
        below_half: Some(0.5),
        below_tenth: Some(0.5),
        nearly_full: Some(0.8),
        cold_charge_ah: Some(5.0),
        offset_a: estimate(0.2, 0.02),
        unaccounted_a: estimate(-0.5, 0.1),
        efficiency: estimate(0.90, 0.005),
        efficiency_before: estimate(0.95, 0.005),
        weak: Some(Weak {
            monobloc: 3,
            shortfall: Estimate { value: 0.07, std_dev: 0.01 },
            day: minute(0, 0.0, 50.0).at,
        }),
        charge_end_spread_v: Some(0.9),
        cells_each: 6.0,
        ..nothing(chemistry)
    }
}

fn rules(evidence: &Evidence) -> Vec<&'static str> {
    advice(evidence).iter().map(|advice| advice.rule).collect()
}

#[test]
fn nobody_is_advised_on_what_nobody_knows() {
    for chemistry in Chemistry::ALL {
        assert!(advice(&nothing(chemistry)).is_empty(), "{chemistry}");
    }
}

#[test]
fn every_rule_speaks_where_it_has_cause_and_warnings_come_first() {
    let mut said: Vec<&str> = Chemistry::ALL.into_iter().flat_map(|chemistry| rules(&everything(chemistry))).collect();
    said.sort_unstable();
    said.dedup();
    assert_eq!(said.len(), RULES.len(), "{said:?}");
    for chemistry in Chemistry::ALL {
        let priorities: Vec<&str> = advice(&everything(chemistry)).iter().map(|advice| advice.priority).collect();
        let first_other = priorities.iter().position(|priority| *priority != "warning").expect("cautions too");
        assert!(priorities[first_other..].iter().all(|priority| *priority != "warning"), "{priorities:?}");
    }
}

#[test]
fn a_rule_that_belongs_to_a_chemistry_is_silent_for_the_others() {
    for chemistry in Chemistry::ALL {
        let said = rules(&everything(chemistry));
        let lithium = matches!(chemistry, Chemistry::Lfp | Chemistry::Nmc);
        assert_eq!(said.contains(&"equalise"), chemistry == Chemistry::Flooded, "{chemistry}");
        assert_eq!(said.contains(&"balance"), chemistry != Chemistry::Flooded, "{chemistry}");
        assert_eq!(said.contains(&"full-recharge-overdue"), !lithium, "{chemistry}");
        assert_eq!(said.contains(&"charged-in-frost"), lithium, "{chemistry}");
        assert_eq!(said.contains(&"full-and-warm"), lithium, "{chemistry}");
    }
}

#[test]
fn lead_with_carbon_may_wait_longer_for_a_full_charge() {
    let after = |chemistry, days| {
        let evidence = Evidence { days_since_full: Some(days), ..nothing(chemistry) };
        advice(&evidence).first().map(|advice| advice.priority)
    };
    assert_eq!([6.0, 8.0, 15.0].map(|days| after(Chemistry::Agm, days)), [None, Some("caution"), Some("warning")]);
    assert_eq!(
        [8.0, 31.0, 61.0].map(|days| after(Chemistry::LeadCarbon, days)),
        [None, Some("caution"), Some("warning")]
    );
}

#[test]
fn what_lies_within_its_error_is_no_cause() {
    let evidence = Evidence {
        offset_a: estimate(0.2, 0.09),
        unaccounted_a: estimate(-0.15, 0.1),
        efficiency: estimate(0.92, 0.02),
        efficiency_before: estimate(0.95, 0.02),
        ..nothing(Chemistry::Agm)
    };
    assert!(advice(&evidence).is_empty(), "{:?}", advice(&evidence));
}

#[test]
fn advice_on_gas_and_on_heavy_currents_says_what_to_take_care_of() {
    let said = advice(&everything(Chemistry::Flooded));
    let of = |rule: &str| said.iter().find(|advice| advice.rule == rule).expect("it has cause").action;
    assert!(of("equalise").contains("hydrogen") && of("equalise").contains("maker's limits"));
    assert!(of("connection").contains("isolated"));
    for chemistry in Chemistry::ALL {
        for advice in advice(&everything(chemistry)) {
            assert!(
                !advice.source.is_empty() && !advice.evidence.is_empty() && !advice.reason.is_empty(),
                "{advice:?}"
            );
        }
    }
}
