use super::*;
use crate::battery::{Chemistry, SensorError};
use crate::health::toys::{steady, still};
use crate::quantity::{Band, BandedSoc, BootNo, MINUTE_MS, MonoMs};

/// A bank with a true capacity, looked at through a sensor with an offset. Its rest voltage is the preset's: what is tested
/// is the accounting, against the charge that really moved.
struct Boat {
    bank: Bank,
    capacity_ah: f64,
    offset_a: f64,
    soc: f64,
    minute: i64,
    unseen_s: Option<f64>,
    watch: Findings,
    out: Out,
}

impl Boat {
    fn new(chemistry: Chemistry, capacity_ah: f64, offset_a: f64) -> Boat {
        let mut bank = Bank::new("house", chemistry, 4, 120.0, 20.0).expect("possible");
        bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
        let watch = Findings::new(&Aboard { bank: &bank, branches: &[] });
        Boat { bank, capacity_ah, offset_a, soc: 1.0, minute: 0, unseen_s: None, watch, out: Out::default() }
    }

    fn now(&self) -> Moment {
        Moment { boot: BootNo(1), mono: MonoMs(self.minute * MINUTE_MS) }
    }

    fn fix(&mut self, kind: FixKind) {
        let after = BandedSoc { soc: self.soc, band: Band { low: self.soc, high: self.soc } };
        let fix = FixMark { at: self.now(), kind, before: None, after };
        self.watch.fix(&Aboard { bank: &self.bank, branches: &[] }, &fix, &mut self.out);
    }

    /// Hours at a true current, A.
    fn hours(&mut self, hours: u32, current_a: f64) {
        for _ in 0..hours * 60 {
            self.minute(current_a);
        }
    }

    fn minute(&mut self, current_a: f64) {
        let voltage = &self.bank.preset().voltage;
        let seen_a = current_a + self.offset_a;
        let cell_v = voltage.ocv.at(self.soc).0 + current_a / self.bank.rated_capacity_ah * voltage.resistance_ohm_ah;
        let at = self.now();
        let voltage_v = still(at, cell_v * f64::from(self.bank.cells_in_series));
        let minute = Minute { unseen_s: self.unseen_s, voltage_v, temperature_c: Some(25.0), ..steady(at, seen_a) };
        let efficiency = if current_a > 0.0 { self.bank.preset().efficiency.at(self.soc) } else { 1.0 };
        self.soc = (self.soc + current_a * efficiency / 60.0 / self.capacity_ah).min(1.0);
        self.watch.minute(&Aboard { bank: &self.bank, branches: &[] }, &minute, &mut self.out);
        self.unseen_s = Some(0.0);
        self.minute += 1;
    }

    fn gap(&mut self, minutes: i64) {
        self.minute += minutes;
        self.unseen_s = Some(minutes as f64 * 60.0);
    }

    fn charge_until_full(&mut self, current_a: f64) {
        while self.soc < 0.9999 {
            self.minute(current_a);
        }
        self.fix(FixKind::Full);
    }

    fn found(&self) -> Vec<&CapacityFinding> {
        let findings = self.out.findings.iter();
        findings
            .filter_map(|finding| match finding {
                Finding::Capacity(finding) => Some(finding),
                _ => None,
            })
            .collect()
    }
}

fn near(estimate: Estimate, truth: f64, part: f64) {
    assert!((estimate.value / truth - 1.0).abs() < part, "{estimate:?} against {truth}");
}

#[test]
fn a_rest_after_full_tells_the_capacity_once_no_deeper_one_has_come() {
    let mut boat = Boat::new(Chemistry::Agm, 100.0, 0.0);
    boat.hours(1, 1.0);
    boat.fix(FixKind::Full);
    boat.hours(10, 0.5);
    boat.hours(6, -10.0);
    boat.hours(8, -0.1);
    boat.hours(1, -5.0);
    assert!(boat.found().is_empty(), "a deeper rest may come");
    boat.hours(72, -0.05);
    let found = boat.found();
    assert_eq!(found.len(), 1);
    assert_eq!(found[0].watched, Watched::FullToRest);
    near(found[0].raw_ah, 100.0, 0.02);
    assert!((found[0].raw_ah.value - found[0].rated_ah.value).abs() < 1e-9, "no law between rests");
    assert!(found[0].law.starts_with("no law"), "{}", found[0].law);
    assert!(found[0].rated_ah.std_dev > 10.0, "a lead curve is wrong by that much: {:?}", found[0].rated_ah);
}

#[test]
fn down_and_up_again_the_offset_of_the_sensor_falls_out() {
    // 150 mA for a day each way, three times what the sensor is said to do: 5 % of the charge down, the other way up.
    let mut boat = Boat::new(Chemistry::Nmc, 120.0, 0.15);
    boat.hours(1, 1.0);
    boat.fix(FixKind::Full);
    boat.hours(27, -3.0);
    boat.hours(4, -0.2);
    boat.charge_until_full(3.0);
    let found = boat.found();
    assert_eq!(found.iter().map(|f| f.watched).collect::<Vec<_>>(), [Watched::FullToFull]);
    near(found[0].raw_ah, 120.0, 0.015);
    let counted_ah = (3.0 - 0.15) * 27.0;
    assert!(found[0].charge_ah > counted_ah + 3.0, "{} of {counted_ah} Ah", found[0].charge_ah);
}

#[test]
fn at_the_cut_off_the_charge_is_the_capacity_at_that_load_and_the_laws_are_named() {
    let mut boat = Boat::new(Chemistry::Agm, 120.0, 0.0);
    boat.hours(1, 1.0);
    boat.fix(FixKind::Full);
    boat.hours(4, -24.0);
    boat.fix(FixKind::Empty);
    boat.fix(FixKind::Empty);
    let found = boat.found();
    assert_eq!(found.len(), 1, "a cut-off that is met again is the same discharge");
    assert_eq!(found[0].watched, Watched::FullToEmpty);
    near(found[0].raw_ah, 96.0, 0.001);
    assert!((found[0].hours - 4.0).abs() < 0.01);
    // Peukert's law, worked out apart: I^k t alike, so C = (I^k t / (C/20)^k)..., k 1.10: C = I (t / 20)^(1/k) 20.
    let by_law = 24.0 * (4.0_f64 / 20.0).powf(1.0 / 1.10) * 20.0;
    near(found[0].rated_ah, by_law, 0.002);
    assert!(found[0].law.contains("Peukert exponent 1.100 from the 20 h rate"), "{}", found[0].law);
}

#[test]
fn from_rest_to_rest_where_the_curve_is_steep() {
    let mut boat = Boat::new(Chemistry::Nmc, 110.0, 0.0);
    boat.soc = 0.85;
    boat.hours(4, -0.1);
    boat.hours(4, -11.0);
    boat.hours(3, -0.1);
    boat.hours(1, -5.0);
    let found = boat.found();
    assert_eq!(found.iter().map(|f| f.watched).collect::<Vec<_>>(), [Watched::RestToRest]);
    near(found[0].rated_ah, 110.0, 0.02);
}

#[test]
fn a_flat_plateau_gives_no_finding() {
    let mut boat = Boat::new(Chemistry::Lfp, 120.0, 0.0);
    boat.hours(1, 1.0);
    boat.fix(FixKind::Full);
    boat.hours(5, -12.0);
    boat.hours(5, -0.1);
    boat.charge_until_full(12.0);
    assert!(boat.found().is_empty(), "{:?}", boat.found());
}

#[test]
fn what_nobody_saw_widens_a_finding_and_too_much_of_it_ends_the_count() {
    let finding_after = |gap_min: Option<i64>| {
        let mut boat = Boat::new(Chemistry::Agm, 120.0, 0.0);
        boat.hours(1, 1.0);
        boat.fix(FixKind::Full);
        boat.hours(5, -6.0);
        match gap_min {
            Some(minutes) => boat.gap(minutes),
            None => boat.unseen_s = None,
        }
        boat.hours(10, -6.0);
        boat.fix(FixKind::Empty);
        boat.found().first().map(|found| (found.charge_ah, found.rated_ah.std_dev))
    };
    let (charge_ah, sure) = finding_after(Some(0)).expect("a finding");
    let (with_gap_ah, unsure) = finding_after(Some(45)).expect("a finding");
    assert!((charge_ah - with_gap_ah).abs() < 0.01, "nothing is made up for a gap");
    assert!(unsure > sure + 1.0, "{unsure} against {sure}");
    assert_eq!(finding_after(Some(600)), None, "ten hours may be 60 Ah");
    assert_eq!(finding_after(None), None, "no telling how long");
}

#[test]
fn a_test_stands_in_for_the_discharge_that_it_was() {
    let [mut boat, mut other] = [0, 1].map(|_| {
        let mut boat = Boat::new(Chemistry::Agm, 120.0, 0.0);
        boat.hours(1, 1.0);
        boat.fix(FixKind::Full);
        boat.hours(4, -24.0);
        boat
    });
    boat.fix(FixKind::Empty);
    let span = boat.found()[0].span;
    let run = ToCutOff {
        drawn_ah: 96.0,
        drawn_variance_ah2: 0.0,
        charged_ah: 0.0,
        hours_since_full: 4.0,
        load_a: 24.0,
        recent_a: 24.0,
        temperature_c: Some(25.0),
    };
    let measured = Measured::to_cut_off(&boat.bank, Watched::Test, span, run);
    let aboard = Aboard { bank: &boat.bank, branches: &[] };
    let tested = boat.watch.test(&aboard, &measured);
    let both = tested.combined_ah.expect("combined");
    let once = other.watch.test(&aboard, &measured).combined_ah.expect("combined");
    let close = (both.std_dev / once.std_dev - 1.0).abs() < 1e-9 && (both.value / once.value - 1.0).abs() < 1e-9;
    assert!(close, "{both:?} and {once:?}: one discharge counts once");
    let later = boat.watch.capacity(&aboard, 2.0 * 365.25 * 86_400.0).expect("known");
    assert!(later.combined_ah.std_dev > 1.3 * both.std_dev, "{later:?}");
    assert!(later.combined_ah.value < both.value, "banks fade");
    assert!(later.total_least_squares_ah.is_some());
}
