//! Whatever a device says, the reckoning stays in bounds and its bands stay in order.

mod filter;
mod fuzz;
mod passages;

use proptest::prelude::*;
use proptest::test_runner::FileFailurePersistence;
use taffrail::battery::{Bank, Chemistry};
use taffrail::quantity::Reading;
use taffrail::reckoning::{Method, Outlook, Reckoned, Reckoner, Start, TimeOff, ahead, endurance, outlook};

fn banks() -> impl Strategy<Value = Bank> {
    (0..Chemistry::ALL.len(), 1..48_u32, 5.0..2000.0_f64, 1.0..100.0_f64).prop_map(|(chemistry, cells, ah, hours)| {
        Bank::new("any", Chemistry::ALL[chemistry], cells, ah, hours).expect("inside what is possible")
    })
}

fn starts() -> impl Strategy<Value = Start> {
    prop_oneof![Just(Start::Full), Just(Start::Unknown), (0.0..=1.0).prop_map(Start::At)]
}

/// Steps of (seconds since the reading before, volts a cell, rate in A per Ah, temperature).
fn steps() -> impl Strategy<Value = Vec<(f64, f64, f64, Option<f64>)>> {
    let seconds = prop_oneof![8 => 0.1..5.0_f64, 1 => 5.0..900.0_f64, 1 => 900.0..1e6_f64];
    let step = (seconds, 0.0..4.5_f64, -20.0..20.0_f64, proptest::option::of(-40.0..80.0_f64));
    proptest::collection::vec(step, 1..200)
}

fn run(reckoner: &mut Reckoner, steps: &[(f64, f64, f64, Option<f64>)], mut check: impl FnMut(&Bank, &Reckoned)) {
    let bank = reckoner.bank().clone();
    let mut t_s = 0.0;
    for &(dt_s, cell_v, c_rate, temperature_c) in steps {
        t_s += dt_s;
        let voltage_v = cell_v * f64::from(bank.cells_in_series);
        reckoner.step(&Reading { t_s, voltage_v, current_a: c_rate * bank.rated_capacity_ah, temperature_c });
        check(&bank, &reckoner.report());
    }
}

/// So many cases; those that once failed are tried first, for ever.
fn cases(cases: u32) -> ProptestConfig {
    let found = FileFailurePersistence::Direct("tests/property/regressions.txt");
    ProptestConfig { cases, failure_persistence: Some(Box::new(found)), ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(200))]

    #[test]
    fn the_state_stays_in_bounds_and_the_band_around_it(bank in banks(), start in starts(), steps in steps()) {
        let mut reckoner = Reckoner::begin(Method::Counter, bank, start);
        run(&mut reckoner, &steps, |bank, state| {
            let band = state.soc_band;
            assert!(0.0 <= band.low && band.low <= state.soc && state.soc <= band.high && band.high <= 1.0, "{state:?}");
            assert!(0.0 <= state.held_ah && state.held_ah <= bank.rated_capacity_ah, "{state:?}");
            assert!(state.held_band_ah.low <= state.held_ah && state.held_ah <= state.held_band_ah.high, "{state:?}");
        });
    }

    #[test]
    fn what_lies_ahead_is_finite_and_in_order(bank in banks(), start in starts(), steps in steps()) {
        let mut reckoner = Reckoner::begin(Method::Counter, bank, start);
        run(&mut reckoner, &steps, |bank, state| {
            if let Outlook::Falling(lasts) = outlook(bank, state) {
                for span in [lasts.empty, lasts.reserve] {
                    assert!(span.low_s <= span.likely_s && span.likely_s <= span.high_s && span.high_s.is_finite());
                }
                assert!(lasts.reserve.likely_s <= lasts.empty.likely_s);
            }
            for point in ahead(bank, state) {
                assert!(0.0 <= point.band.low && point.band.low <= point.soc && point.soc <= point.band.high, "{point:?}");
            }
        });
    }

    #[test]
    fn a_heavier_load_never_lasts_longer(bank in banks(), soc in 0.0..=1.0_f64, load in 0.001..5.0_f64, more in 1.0..10.0_f64) {
        let state = Reckoner::begin(Method::Counter, bank.clone(), Start::At(soc)).report();
        let load_a = load * bank.rated_capacity_ah;
        let (light, heavy) = (endurance(&bank, &state, load_a), endurance(&bank, &state, load_a * more));
        prop_assert!(heavy.empty.likely_s <= light.empty.likely_s + 1e-6);
        prop_assert!(heavy.reserve.likely_s <= light.reserve.likely_s + 1e-6);
    }

    #[test]
    fn saved_and_resumed_after_time_off_the_band_is_never_narrower(
        bank in banks(), start in starts(), steps in steps(), seconds in 0.0..1e7_f64,
    ) {
        let mut reckoner = Reckoner::begin(Method::Counter, bank.clone(), start);
        run(&mut reckoner, &steps, |_, _| {});
        let before = reckoner.report();
        for off in [TimeOff::Known { seconds }, TimeOff::Claimed { seconds }, TimeOff::Unknown] {
            let after = Reckoner::resume(bank.clone(), &reckoner.save(), off).expect("own text").report();
            prop_assert!(after.soc_band.low <= before.soc_band.low + 1e-9, "{off:?}: {before:?} {after:?}");
            prop_assert!(after.soc <= before.soc + 1e-9, "{off:?}");
        }
    }
}
