//! What a current sensor's errors do to a count that nothing corrects: the numbers are arithmetic (A h over Ah), the
//! growth is its consequence: an offset stays, so that doubt grows with time and not with its root.

use taffrail::battery::{Bank, Chemistry, SensorError};
use taffrail::quantity::{Reading, Z95};
use taffrail::reckoning::{Method, Reckoned, Reckoner, Start};

const STEP_S: f64 = 60.0;
const DAY_S: f64 = 86_400.0;

fn bank(chemistry: Chemistry, rated_ah: f64, offset_a: f64) -> Bank {
    let mut bank = Bank::new("drifting", chemistry, 6, rated_ah, 20.0).expect("possible");
    bank.sensor = SensorError { gain: 0.005, offset_a };
    bank
}

/// The state at the end of each span of `days` under a constant current. The voltage reads 0, which no bank does: the
/// filter is left with its count.
fn counted(bank: &Bank, soc: f64, current_a: f64, days: &[f64]) -> Vec<Reckoned> {
    let mut reckoner = Reckoner::begin(Method::Filter, bank.clone(), Start::At(soc));
    // As sure as anybody can be, so that the start is not what the band shows.
    reckoner.hand_fix(soc, 0.002);
    let mut t_s = 0.0;
    let mut states = Vec::new();
    for &end in days {
        while t_s <= end * DAY_S {
            let fix = reckoner.step(&Reading { t_s, voltage_v: 0.0, current_a, temperature_c: Some(25.0) });
            assert!(fix.is_none(), "{fix:?}");
            t_s += STEP_S;
        }
        states.push(reckoner.report());
    }
    states
}

/// 50 mA on 100 Ah are 1.2 % a day; 10 mA on 400 Ah are 1.8 % in 30 days. What the sensor reads beside the truth is counted,
/// and nothing else is different; the last row of a day ends within a step of it.
#[test]
fn an_offset_moves_the_count_by_its_arithmetic() {
    for chemistry in [Chemistry::LeadCarbon, Chemistry::Flooded, Chemistry::Lfp] {
        for (rated_ah, offset_a, days, moved) in
            [(100.0, 0.05, 1.0, 0.012), (100.0, 0.05, 10.0, 0.12), (400.0, 0.01, 30.0, 0.018)]
        {
            let bank = bank(chemistry, rated_ah, offset_a);
            let [truth, drifted] = [0.0, -offset_a].map(|current_a| counted(&bank, 0.8, current_a, &[days])[0]);
            let difference = truth.soc - drifted.soc;
            assert!((difference / moved - 1.0).abs() < 1e-6, "{chemistry:?}: {difference}, want {moved}");
        }
    }
}

/// A gain of 0.5 % at 50 % depth of discharge is 0.25 % of the charge.
#[test]
fn a_gain_moves_the_count_by_its_share_of_what_was_drawn() {
    let bank = bank(Chemistry::LeadCarbon, 100.0, 0.05);
    let [truth, drifted] = [-50.0 / 24.0, -50.25 / 24.0].map(|current_a| counted(&bank, 0.8, current_a, &[1.0])[0]);
    let difference = truth.soc - drifted.soc;
    assert!((difference - 0.0025).abs() < 1e-6, "{difference}");
}

/// The half-width from the offset alone: 1.96 times 1.2 % for each day; from half charge, so that no end cuts the band. The stated start and the sensor's slow
/// drift add to it, a few per cent of it; a doubt that grew with the root of time would be a third of it after ten days.
#[test]
fn the_band_widens_in_a_straight_line_with_time() {
    for chemistry in [Chemistry::LeadCarbon, Chemistry::Lfp] {
        let days = [1.0, 5.0, 10.0];
        let states = counted(&bank(chemistry, 100.0, 0.05), 0.5, 0.0, &days);
        for (state, days) in states.iter().zip(days) {
            let half = state.soc_band.width() / 2.0;
            let of_offset = Z95 * 0.012 * days;
            assert!((0.999..1.08).contains(&(half / of_offset)), "{chemistry:?}, {days} days: {half}, {of_offset}");
        }
    }
}
