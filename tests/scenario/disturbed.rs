//! Sensors that misbehave on a voyage: no false fix, no jump, and the band holds.

use taffrail::reckoning::{Method, Suspicion};

use super::sound::suspicions;
use super::{erring_in_turn, judge, limits, none_misses, say, thinned, voyages};
use crate::support::trial::disturbed::{Fault, follow, with};
use crate::support::trial::{Trace, must};

fn no_harm_by(fault: Fault) {
    // The fault comes after the sensor's noise: what is stuck repeats itself to the last digit.
    let faulty = erring_in_turn(voyages()).map(|trace| {
        let faulty = thinned(&with(&trace, fault));
        Trace { name: format!("{}, {}", trace.name, fault.words()), ..faulty }
    });
    none_misses(faulty, |trace| {
        let outcome = follow(Method::Filter, &trace);
        let name = &trace.name;
        say(&format!("{name}: {} false fixes, greatest jump {:.4}", outcome.false_fixes, outcome.greatest_jump));
        let band = judge(name, &outcome.score, limits::disturbed(name));
        let jump = limits::reached(limits::JUMP, name, must::JUMP);
        let is_good = outcome.false_fixes == 0 && outcome.greatest_jump <= jump && band.is_none();
        (!is_good).then(|| format!("{name}: {outcome:?}"))
    });
}

#[test]
fn a_stuck_voltage_does_no_harm() {
    no_harm_by(Fault::StuckVoltage);
}

#[test]
fn spikes_of_one_sample_do_no_harm() {
    no_harm_by(Fault::Spikes);
}

#[test]
fn a_day_without_temperature_does_no_harm() {
    no_harm_by(Fault::NoTemperature);
}

#[test]
fn twenty_minutes_of_silence_under_load_do_no_harm() {
    no_harm_by(Fault::ShortGap);
}

#[test]
fn five_hours_of_silence_under_load_do_no_harm() {
    no_harm_by(Fault::LongGap);
}

#[test]
fn a_stuck_voltage_is_called_out() {
    for trace in erring_in_turn(voyages()) {
        let raised = suspicions(&thinned(&with(&trace, Fault::StuckVoltage)));
        assert!(raised.contains(&Suspicion::VoltageStuck), "{}: {raised:?}", trace.name);
    }
}
