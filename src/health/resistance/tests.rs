use super::rise::Rise;
use super::*;
use crate::battery::{Bank, Chemistry};
use crate::health::record::{Finding, Reach, ResistanceDay};
use crate::health::toys::{Chance, drive_bank, minute, soc};
use crate::health::watch::{Aboard, Out};
use crate::quantity::{BootNo, Estimate, Moment, MonoMs, Reading};

/// Ω of a monobloc within a second; as much again builds up with a time constant of 20 s.
const OHM: f64 = 0.005;

/// A string of four monoblocs at rest voltage 51 V under a load that is switched on each half hour for ten minutes, read
/// each `every_s`, with noise. The third monobloc has another resistance.
struct Boat {
    bank: Bank,
    every_s: i64,
    noise_v: f64,
    charge: f64,
    temperature_c: f64,
    load_a: f64,
    third_ohm: f64,
}

impl Boat {
    fn live(&self, watch: &mut Steps, minutes: std::ops::Range<i64>, out: &mut Out) {
        let aboard = Aboard { bank: &self.bank, branches: &[] };
        let mut chance = Chance(7);
        let (mut slow, mut last) = (0.0, -0.5);
        for n in minutes {
            for second in 0..60 {
                let on = n % 30 >= 20;
                let current_a = if on { -self.load_a } else { -0.5 };
                slow += (current_a - slow) / 20.0;
                if second % self.every_s == 0 {
                    let mut monobloc = |ohm: f64| 12.75 + ohm * current_a + OHM * slow + self.noise_v * chance.normal();
                    let v = [monobloc(OHM), monobloc(OHM), monobloc(self.third_ohm), monobloc(OHM)];
                    let at = Moment { boot: BootNo(1), mono: MonoMs(n * 60_000 + second * 1000) };
                    let reading = Reading {
                        t_s: 0.0,
                        voltage_v: v.iter().sum(),
                        current_a: current_a + 0.02 * chance.normal(),
                        temperature_c: Some(self.temperature_c),
                    };
                    watch.reading(&aboard, at, &reading, &v);
                    last = current_a;
                }
            }
            let mut minute = minute(n, last, 51.0);
            minute.soc = soc(self.charge);
            watch.minute(&aboard, &minute, out);
        }
    }

    fn days(&self, watch: &mut Steps, days: i64) -> Vec<ResistanceDay> {
        let mut out = Out::default();
        self.live(watch, 0..days * 1440 + 1, &mut out);
        found(&out)
    }

    fn watch(&self) -> Steps {
        Steps::new(&Aboard { bank: &self.bank, branches: &[] })
    }
}

fn found(out: &Out) -> Vec<ResistanceDay> {
    let resistance = |finding: &Finding| match finding {
        Finding::Resistance(day) => Some(day.clone()),
        _ => None,
    };
    out.findings.iter().filter_map(resistance).collect()
}

fn boat() -> Boat {
    Boat {
        bank: drive_bank(Chemistry::LeadCarbon),
        every_s: 1,
        noise_v: 0.002,
        charge: 0.8,
        temperature_c: 25.0,
        load_a: 30.0,
        third_ohm: OHM,
    }
}

fn of(days: &[ResistanceDay], reach: Reach, monobloc: Option<u32>) -> ResistanceDay {
    days.iter().find(|day| day.reach == reach && day.monobloc == monobloc).expect("such a day").clone()
}

#[test]
fn what_comes_at_once_and_what_builds_up_are_kept_apart() {
    let boat = boat();
    let days = boat.days(&mut boat.watch(), 1);
    let (second, minute) = (of(&days, Reach::Second, None), of(&days, Reach::Minute, None));
    // At once 20 mΩ; the first second brings 1/20 of the other 20 mΩ, a minute 1 - e^-3 of it.
    assert!((second.ohm.value - 0.021).abs() < 3.0 * second.ohm.std_dev.max(1e-4), "{second:?}");
    assert!((minute.ohm.value - 0.039).abs() < 0.0006, "{minute:?}");
    assert!(second.steps > 20 && minute.steps > 20, "{} {}", second.steps, minute.steps);
    assert!(second.ohm.std_dev < 0.0004, "{second:?}");
}

#[test]
fn a_monobloc_with_another_resistance_is_seen_by_itself() {
    let boat = Boat { third_ohm: 1.3 * OHM, ..boat() };
    let days = boat.days(&mut boat.watch(), 1);
    let ratio = of(&days, Reach::Second, Some(3)).ohm.value / of(&days, Reach::Second, Some(1)).ohm.value;
    assert!((ratio - (1.3 + 0.05) / 1.05).abs() < 0.02, "{ratio}");
}

#[test]
fn cold_is_taken_out_and_the_lower_half_of_charge_left_out() {
    let cold = Boat { temperature_c: 5.0, ..boat() };
    let day = of(&cold.days(&mut cold.watch(), 1), Reach::Second, None);
    assert!((day.ohm.value / day.normal_ohm.value - (0.013_f64 * 20.0).exp()).abs() < 1e-9, "{day:?}");
    let low = Boat { charge: 0.4, ..boat() };
    assert!(low.days(&mut low.watch(), 2).is_empty());
}

#[test]
fn a_slow_rhythm_tells_of_the_minute_only() {
    let boat = Boat { every_s: 10, ..boat() };
    let days = boat.days(&mut boat.watch(), 1);
    assert!(days.iter().all(|day| day.reach == Reach::Minute), "{days:?}");
    let minute = of(&days, Reach::Minute, None);
    assert!((minute.ohm.value - 0.039).abs() < 0.001, "{minute:?}");
}

#[test]
fn small_steps_and_steps_while_charging_are_no_steps() {
    let small = Boat { load_a: 4.0, ..boat() };
    assert!(small.days(&mut small.watch(), 1).is_empty());
    let charging = Boat { load_a: -30.0, ..boat() };
    assert!(charging.days(&mut charging.watch(), 1).is_empty());
}

#[test]
fn a_watch_that_was_saved_goes_on_as_if_nothing_had_been() {
    let boat = boat();
    let (mut whole, mut pieces) = (boat.watch(), boat.watch());
    let (mut at_once, mut by_and_by) = (Out::default(), Out::default());
    // The random numbers begin anew with each piece.
    for begin in (0..1500).step_by(37) {
        boat.live(&mut whole, begin..begin + 37, &mut at_once);
        boat.live(&mut pieces, begin..begin + 37, &mut by_and_by);
        let saved = serde_json::to_string(&pieces).expect("JSON");
        assert!(saved.len() < 30_000, "{}", saved.len());
        pieces = serde_json::from_str(&saved).expect("the same");
    }
    assert!(!found(&at_once).is_empty());
    assert_eq!(at_once, by_and_by);
}

/// Days of four monoblocs and the bank, each with its factor.
fn day(second: [f64; 4], rest_of_minute: f64) -> Vec<ResistanceDay> {
    let at = Moment { boot: BootNo(1), mono: MonoMs(0) };
    let one = |reach, monobloc, value: f64| {
        let ohm = Estimate { value, std_dev: 0.01 * value };
        ResistanceDay { day: at, reach, monobloc, steps: 9, ohm, normal_ohm: ohm }
    };
    let total: f64 = second.iter().map(|factor| OHM * factor).sum();
    let mut days = vec![one(Reach::Second, None, total), one(Reach::Minute, None, total + 4.0 * OHM * rest_of_minute)];
    days.extend((1..).zip(second).map(|(number, factor)| one(Reach::Second, Some(number), OHM * factor)));
    days
}

fn told(days: impl Iterator<Item = Vec<ResistanceDay>>) -> Vec<(usize, String)> {
    let bank = drive_bank(Chemistry::LeadCarbon);
    let aboard = Aboard { bank: &bank, branches: &[] };
    let (mut rise, mut said) = (Rise::default(), Vec::new());
    for (n, found) in days.enumerate() {
        let mut out = Out::default();
        rise.look(&aboard, &found, Moment { boot: BootNo(1), mono: MonoMs(0) }, &mut out);
        said.extend(out.told.into_iter().map(|told| (n, told.text)));
    }
    said
}

#[test]
fn a_connection_that_goes_bad_is_told_on_its_third_day_and_once() {
    let mut chance = Chance(1);
    let said = told((0..60).map(|n| {
        let mut of = || 1.0 + 0.03 * chance.normal();
        let bad = if n >= 30 { 1.4 } else { 1.0 };
        day([of(), of() * bad, of(), of()], 1.0)
    }));
    assert_eq!(said.len(), 1, "{said:?}");
    assert!(said[0].0 == 32 && said[0].1.contains("monobloc 2"), "{said:?}");
}

#[test]
fn a_bank_whose_electrodes_age_is_no_bad_connection_but_a_cable_is() {
    let both = told((0..60).map(|n| day([if n >= 30 { 1.4 } else { 1.0 }; 4], if n >= 30 { 1.4 } else { 1.0 })));
    assert!(both.is_empty(), "{both:?}");
    let at_once = told((0..60).map(|n| day([if n >= 30 { 1.4 } else { 1.0 }; 4], 1.0)));
    assert!(at_once.len() == 1 && at_once[0].1.contains("whole bank"), "{at_once:?}");
}

/// A hundred years of days whose scatter has heavy tails: Student's t with 3 degrees of freedom, 4 % wide.
#[test]
fn days_with_heavy_tails_and_slow_ageing_raise_no_alarm() {
    let mut chance = Chance(3);
    let said = told((0..36_500).map(|n| {
        let ageing = 1.0 + 0.5 * f64::from(n % 3650) / 3650.0;
        let mut of = || {
            let chi = (0..3).map(|_| chance.normal().powi(2)).sum::<f64>() / 3.0;
            ageing * (0.04 * chance.normal() / chi.sqrt()).exp()
        };
        day([of(), of(), of(), of()], 1.0)
    }));
    assert!(said.is_empty(), "{said:?}");
}
