//! What must be true of the filter on any bank and any input: bounds, scale, steps of time, and an honest band.

use proptest::prelude::*;
use taffrail::battery::{Bank, Chemistry};
use taffrail::quantity::{Estimate, Reading};
use taffrail::reckoning::{FixKind, Method, Reckoned, Reckoner, Start, TimeOff};

use super::{banks, cases, run, starts, steps};

/// One stretch of a plausible life: so many seconds at so many A per Ah.
type Stretch = (f64, f64);

/// Hours of house loads, motoring, charging and rest, from full.
fn life() -> impl Strategy<Value = Vec<Stretch>> {
    let rate = prop_oneof![3 => -0.05..-0.005_f64, 1 => -0.5..-0.05_f64, 2 => 0.01..0.2_f64, 1 => Just(0.0)];
    proptest::collection::vec((600.0..7200.0_f64, rate), 4..16)
}

fn chemistries() -> impl Strategy<Value = Chemistry> {
    (0..Chemistry::ALL.len()).prop_map(|at| Chemistry::ALL[at])
}

/// A crude cell that plays such a life: the voltage is a straight line of charge and current. It shows what does not hang on
/// a battery's truth.
struct Cell {
    chemistry: Chemistry,
    soc: f64,
}

impl Cell {
    fn volts(&self, c_rate: f64) -> f64 {
        let (empty_v, rise_v) = match self.chemistry {
            Chemistry::Lfp => (3.20, 0.13),
            Chemistry::Nmc => (3.40, 0.75),
            Chemistry::LeadCarbon | Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded => (1.95, 0.17),
        };
        empty_v + rise_v * self.soc + 0.2 * c_rate
    }

    /// Readings of a bank of such cells, a row each `step_s` and at the ends of each stretch.
    fn play(mut self, life: &[Stretch], bank: &Bank, step_s: f64) -> Vec<Reading> {
        let mut readings = Vec::new();
        let mut t_s = 0.0;
        for &(length_s, c_rate) in life {
            let count = (length_s / step_s).ceil();
            let dt_s = length_s / count;
            let mut left = count;
            while left > 0.5 && (0.02..=0.98).contains(&(self.soc + c_rate * dt_s / 3600.0)) {
                self.soc += c_rate * dt_s / 3600.0;
                t_s += dt_s;
                left -= 1.0;
                readings.push(Reading {
                    t_s,
                    voltage_v: self.volts(c_rate) * f64::from(bank.cells_in_series),
                    current_a: c_rate * bank.rated_capacity_ah,
                    temperature_c: Some(20.0),
                });
            }
        }
        readings
    }
}

fn line(bank: &Bank, start: Start, readings: &[Reading]) -> Vec<Reckoned> {
    let mut reckoner = Reckoner::begin(Method::Filter, bank.clone(), start);
    let states = readings.iter().map(|reading| {
        reckoner.step(reading);
        reckoner.report()
    });
    states.collect()
}

/// A row more between each two, on the straight line between them.
fn halved(readings: &[Reading]) -> Vec<Reading> {
    let mut finer = Vec::with_capacity(2 * readings.len());
    for pair in readings.windows(2) {
        finer.push(pair[0]);
        finer.push(Reading {
            t_s: f64::midpoint(pair[0].t_s, pair[1].t_s),
            voltage_v: f64::midpoint(pair[0].voltage_v, pair[1].voltage_v),
            current_a: f64::midpoint(pair[0].current_a, pair[1].current_a),
            temperature_c: pair[1].temperature_c,
        });
    }
    finer.extend(readings.last());
    finer
}

proptest! {
    #![proptest_config(cases(48))]

    #[test]
    fn whatever_comes_the_state_stays_in_bounds_and_the_bands_in_order(
        bank in banks(), start in starts(), steps in steps(),
    ) {
        let mut reckoner = Reckoner::begin(Method::Filter, bank, start);
        run(&mut reckoner, &steps, |_, state| {
            let band = state.soc_band;
            assert!(0.0 <= band.low && band.low <= state.soc && state.soc <= band.high && band.high <= 1.0, "{state:?}");
            let capacity = state.capacity_band_ah;
            assert!(0.0 < state.capacity_ah && capacity.low <= state.capacity_ah, "{state:?}");
            assert!(state.capacity_ah <= capacity.high && capacity.high.is_finite(), "{state:?}");
            assert!(state.held_band_ah.low <= state.held_ah && state.held_ah <= state.held_band_ah.high, "{state:?}");
        });
    }

    #[test]
    fn a_larger_bank_of_the_same_kind_is_reckoned_the_same(
        chemistry in chemistries(), life in life(), cells in 1..48_u32, ah in 20.0..1000.0_f64, times in 1.5..20.0_f64,
    ) {
        let small = Bank::new("small", chemistry, 1, ah, 20.0).expect("possible");
        let large = Bank::new("large", chemistry, cells, ah * times, 20.0).expect("possible");
        let [of_small, of_large] = [&small, &large].map(|bank| {
            line(bank, Start::At(0.9), &Cell { chemistry, soc: 0.9 }.play(&life, bank, 60.0))
        });
        for (a, b) in of_small.iter().zip(&of_large) {
            prop_assert!((a.soc - b.soc).abs() < 1e-6, "{a:?} {b:?}");
            prop_assert!((a.soc_band.width() - b.soc_band.width()).abs() < 1e-6, "{a:?} {b:?}");
            prop_assert!((a.capacity_ah * times / b.capacity_ah - 1.0).abs() < 1e-6, "{a:?} {b:?}");
        }
    }

    #[test]
    fn twice_as_many_rows_tell_the_same(chemistry in chemistries(), life in life()) {
        let bank = Bank::new("any", chemistry, 4, 100.0, 20.0).expect("possible");
        let coarse = Cell { chemistry, soc: 0.9 }.play(&life, &bank, 10.0);
        let (of_coarse, of_fine) = (line(&bank, Start::At(0.9), &coarse), line(&bank, Start::At(0.9), &halved(&coarse)));
        for (a, b) in of_coarse.iter().zip(of_fine.iter().step_by(2)) {
            prop_assert!((a.soc - b.soc).abs() < 0.005, "{a:?} {b:?}");
            prop_assert!((a.soc_band.width() / b.soc_band.width() - 1.0).abs() < 0.1, "{a:?} {b:?}");
        }
    }

    #[test]
    fn knowing_less_at_first_never_makes_the_band_narrower(
        chemistry in chemistries(), life in life(), soc in 0.3..0.9_f64, sure in 0.005..0.1_f64, times in 1.2..5.0_f64,
    ) {
        let bank = Bank::new("any", chemistry, 4, 100.0, 20.0).expect("possible");
        let readings = Cell { chemistry, soc }.play(&life, &bank, 60.0);
        let mut pair = [sure, sure * times].map(|std_dev| {
            let mut reckoner = Reckoner::begin(Method::Filter, bank.clone(), Start::At(soc));
            reckoner.hand_fix(soc, std_dev);
            reckoner
        });
        for reading in &readings {
            for reckoner in &mut pair {
                reckoner.step(reading);
            }
            let [surer, less_sure] = [pair[0].report(), pair[1].report()];
            let reaches_an_end = |state: &Reckoned| state.soc_band.low <= 0.0 || state.soc_band.high >= 1.0;
            // A band that meets empty or full is cut there.
            if !reaches_an_end(&surer) && !reaches_an_end(&less_sure) {
                let (narrow, wide) = (surer.soc_band.width(), less_sure.soc_band.width());
                prop_assert!(wide >= narrow * 0.98 - 1e-6, "{surer:?} {less_sure:?}");
            }
        }
    }

    #[test]
    fn saved_and_resumed_after_time_off_the_band_of_the_filter_is_never_narrower(
        chemistry in chemistries(), life in life(), seconds in 0.0..1e7_f64,
    ) {
        let bank = Bank::new("any", chemistry, 4, 100.0, 20.0).expect("possible");
        let mut reckoner = Reckoner::begin(Method::Filter, bank.clone(), Start::At(0.9));
        for reading in (Cell { chemistry, soc: 0.9 }).play(&life, &bank, 60.0) {
            reckoner.step(&reading);
        }
        let before = reckoner.report().soc_band;
        for off in [TimeOff::Known { seconds }, TimeOff::Claimed { seconds }, TimeOff::Unknown] {
            let after = Reckoner::resume(bank.clone(), &reckoner.save(), off).expect("own text").report().soc_band;
            prop_assert!(after.low <= before.low + 1e-9, "{off:?}: {before:?} {after:?}");
        }
    }
}

#[test]
fn ten_years_of_lead_leave_every_number_finite_and_every_variance_positive() {
    ten_years(Chemistry::LeadCarbon);
}

#[test]
fn ten_years_of_lithium_leave_every_number_finite_and_every_variance_positive() {
    ten_years(Chemistry::Lfp);
}

/// Ten years of days: a load, a rest, a charge, and each week a charge that is held until full. Rows are a quarter of an
/// hour apart, as far as the filter bridges.
fn ten_years(chemistry: Chemistry) {
    const STEP_S: f64 = 900.0;
    let bank = Bank::new("any", chemistry, 4, 100.0, 20.0).expect("possible");
    let mut cell = Cell { chemistry, soc: 1.0 };
    let mut reckoner = Reckoner::begin(Method::Filter, bank.clone(), Start::Full);
    let full_cell_v = bank.full.voltage_v / 4.0 + 0.05;
    let mut full_fixes = 0;
    for step in 0..10 * 365 * 96 {
        let (day, hour) = (step / 96, f64::from(step % 96) / 4.0);
        let is_full_day = day % 7 == 6;
        let is_held = is_full_day && cell.soc >= 0.999;
        let target = if is_full_day { 1.0 } else { 0.95 };
        let c_rate = match hour {
            0.0..10.0 => -0.03,
            10.0..12.0 => 0.0,
            _ if is_held => 0.005,
            _ => ((target - cell.soc) * 3600.0 / STEP_S).clamp(0.0, 0.08),
        };
        cell.soc = (cell.soc + c_rate * STEP_S / 3600.0).min(1.0);
        let cell_v = if is_held && c_rate > 0.0 { full_cell_v } else { cell.volts(c_rate) };
        let temperature_c = Some(20.0 + 8.0 * (f64::from(day) / 58.0).sin());
        let (t_s, current_a) = (f64::from(step) * STEP_S, c_rate * bank.rated_capacity_ah);
        let fix = reckoner.step(&Reading { t_s, voltage_v: 4.0 * cell_v, current_a, temperature_c });
        full_fixes += u32::from(fix.is_some_and(|fix| fix.kind == FixKind::Full));
        if step % 96 == 95 {
            assert_sound(&reckoner.report(), day);
        }
    }
    assert!(full_fixes >= 500, "one a week, {full_fixes}");
}

fn assert_sound(state: &Reckoned, day: u32) {
    let learned = state.learned.expect("a filter learns");
    let estimates = [
        learned.capacity_ah,
        learned.charge_efficiency,
        learned.sensor_offset_a,
        learned.resistance_25_ohm,
        learned.ocv_shift_v,
    ];
    let is_sound =
        |estimate: &Estimate| estimate.value.is_finite() && estimate.std_dev > 0.0 && estimate.std_dev.is_finite();
    assert!(estimates.iter().all(is_sound), "day {day}: {learned:?}");
    assert!(state.soc.is_finite() && state.soc_band.width() > 0.0, "day {day}: {state:?}");
    assert!(state.held_ah.is_finite() && state.bound.charge_ah.is_finite(), "day {day}: {state:?}");
}
