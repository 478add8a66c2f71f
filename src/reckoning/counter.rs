//! The counter: coulomb counting with Peukert and temperature correction, corrected by the full fix.
//!
//! The classic method, kept as the yardstick and as what a skipper can check by hand. It keeps two counts:
//!
//! - the *plain* count: ampere-hours moved, less charging losses. Endurance comes from it.
//! - the *classic* count, shown as the state of charge: each ampere-hour drawn weighs as much more as the bank would give
//!   less at that rate and temperature. After hard runs it calls charge gone that a rest gives back; Peukert's law holds
//!   for constant current only (Doerffel & Sharkh, J. Power Sources 155 (2006) 395).
//!
//! The two part by what the law took. Which of them is right no counter can tell, so the band reaches from the lower to
//! the higher, widened by the error budget of [`super::doubt`].

use serde::{Deserialize, Serialize};

use super::doubt::{CAPACITY_STD_DEV_RATIO, Doubt};
use super::full_watch::{FullWatch, Fullness};
use super::load::{LOAD_CHANGE_RATE, MeanLoad};
use super::terms::{BRIDGED_S, Bound, Fix, FixKind, REFERENCE_C, Reckoned, Start, TimeOff};
use crate::battery::Bank;
use crate::quantity::{Band, Estimate, Reading};

/// Coulomb counting on one bank.
#[derive(Debug, Clone)]
pub struct Counter {
    bank: Bank,
    state: State,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct State {
    plain_ah: f64,
    classic_ah: f64,
    doubt: Doubt,
    start_known: bool,
    seen_full: bool,
    watch: FullWatch,
    load: MeanLoad,
    temperature_c: Option<f64>,
    /// Current of the last reading, A.
    #[serde(default)]
    current_a: f64,
    /// Time and current of the reading before; `None` after a start or time off.
    #[serde(skip)]
    last: Option<(f64, f64)>,
}

impl Counter {
    /// A counter on a bank, with what is known of its charge.
    #[must_use]
    pub fn new(bank: Bank, start: Start) -> Counter {
        let Estimate { value: soc, std_dev } = start.estimate(bank.full.soc_std_dev);
        let known = start != Start::Unknown;
        let held_ah = soc * bank.rated_capacity_ah;
        let state = State {
            plain_ah: held_ah,
            classic_ah: held_ah,
            doubt: Doubt { net_drawn_ah: bank.rated_capacity_ah - held_ah, ..Doubt::fresh(std_dev) },
            start_known: known,
            seen_full: start == Start::Full,
            watch: FullWatch::default(),
            load: MeanLoad::default(),
            temperature_c: None,
            current_a: 0.0,
            last: None,
        };
        Counter { bank, state }
    }

    /// A counter from a saved state.
    ///
    /// # Errors
    /// If the text is no saved state.
    pub fn resume(bank: Bank, saved: &str) -> serde_json::Result<Counter> {
        Ok(Counter { bank, state: serde_json::from_str(saved)? })
    }

    /// The state as JSON text.
    #[must_use]
    pub fn save(&self) -> String {
        serde_json::to_string(&self.state).expect("plain numbers always become JSON")
    }

    /// The bank being counted.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        &self.bank
    }

    /// Whether a charger holds the bank full since its last full fix.
    #[must_use]
    pub const fn held_full(&self) -> bool {
        self.state.watch.is_full()
    }

    /// Nobody looked for a while: the count stays but for self-discharge, the lower edge falls by the worst standing
    /// load, and the hold of the full rule and the mean load begin anew.
    pub fn time_off(&mut self, off: TimeOff) {
        let hours = off.allowance_s() / 3600.0;
        let lost_ah = self.self_discharge_ah(hours);
        self.state.plain_ah -= lost_ah;
        self.state.classic_ah -= lost_ah;
        self.state.doubt.unseen_out_ah += hours * self.bank.standing_load_a + lost_ah;
        self.state.last = None;
        self.state.current_a = 0.0;
        self.state.load.forget();
        self.state.watch.interrupt();
    }

    /// The state was saved a little before the watch ended, and the load does not end with the watch: the last current
    /// or the mean one may have run on for as long as is bridged between readings. To be told before
    /// [`Self::time_off`], which forgets them.
    pub fn run_on(&mut self, off: TimeOff) {
        let hours = off.allowance_s().min(BRIDGED_S) / 3600.0;
        let (last_a, mean_a) = (self.state.current_a, self.state.load.mean_a().unwrap_or(0.0));
        let drawn_a = (-last_a).max(-mean_a).max(0.0);
        let out_a = drawn_a * self.discharge_weight(drawn_a).max(1.0);
        self.state.doubt.unseen_out_ah += hours * (out_a - self.bank.standing_load_a).max(0.0);
        self.state.doubt.unseen_in_ah += hours * last_a.max(mean_a).max(0.0);
    }

    /// Takes the next reading; a full fix that it brought is returned. A reading not later than the last is ignored.
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        if reading.temperature_c.is_some() {
            self.state.temperature_c = reading.temperature_c;
        }
        let Some((last_t_s, last_a)) = self.state.last else {
            self.state.current_a = reading.current_a;
            self.state.last = Some((reading.t_s, reading.current_a));
            return None;
        };
        let dt_s = reading.t_s - last_t_s;
        if dt_s <= 0.0 {
            return None;
        }
        let fix = if dt_s <= BRIDGED_S {
            self.count(dt_s, f64::midpoint(last_a, reading.current_a));
            self.state.doubt.bridge(dt_s, last_a, reading.current_a);
            self.watch_for_full(dt_s, reading)
        } else {
            self.gap(dt_s, last_a, reading.current_a);
            None
        };
        self.state.current_a = reading.current_a;
        self.state.last = Some((reading.t_s, reading.current_a));
        fix
    }

    /// The state up to the last reading.
    #[must_use]
    pub fn report(&self) -> Reckoned {
        let State { plain_ah, classic_ah, doubt, .. } = self.state;
        let capacity_ah = self.bank.rated_capacity_ah;
        let (below, above) = doubt.half_widths(&self.bank);
        let soc = (classic_ah / capacity_ah).clamp(0.0, 1.0);
        let held_ah = plain_ah.clamp(0.0, capacity_ah);
        let soc_band = Band {
            low: classic_ah.min(plain_ah) / capacity_ah - below,
            high: classic_ah.max(plain_ah) / capacity_ah + above,
        };
        let held_band = Band { low: plain_ah - below * capacity_ah, high: plain_ah + above * capacity_ah };
        Reckoned {
            soc,
            soc_band: soc_band.clamp(0.0, 1.0),
            held_ah,
            held_band_ah: held_band.clamp(0.0, capacity_ah),
            capacity_ah,
            capacity_band_ah: Estimate { value: capacity_ah, std_dev: CAPACITY_STD_DEV_RATIO * capacity_ah }.band(),
            drawn_since_full_ah: self.state.seen_full.then_some(capacity_ah - held_ah),
            mean_current_a: self.state.load.mean_a(),
            temperature_c: self.state.temperature_c,
            start_known: self.state.start_known,
            bound: Bound::default(),
            learned: None,
        }
    }

    /// Somebody knows the state of charge, to `std_dev` (1 σ, ratio).
    pub fn hand_fix(&mut self, soc: f64, std_dev: f64) -> Fix {
        let before = self.report();
        let held_ah = soc * self.bank.rated_capacity_ah;
        self.state.plain_ah = held_ah;
        self.state.classic_ah = held_ah;
        self.state.doubt = Doubt { net_drawn_ah: self.bank.rated_capacity_ah - held_ah, ..Doubt::fresh(std_dev) };
        self.state.start_known = true;
        Fix { kind: FixKind::Hand, before, after: self.report() }
    }

    fn count(&mut self, dt_s: f64, current_a: f64) {
        let capacity_ah = self.bank.rated_capacity_ah;
        let moved_ah = current_a * dt_s / 3600.0;
        let (plain_ah, classic_ah) = if current_a < 0.0 {
            (moved_ah, moved_ah * self.discharge_weight(-current_a))
        } else {
            let efficiency = &self.bank.preset().efficiency;
            let kept = |held_ah: f64| moved_ah * efficiency.at(held_ah / capacity_ah);
            (kept(self.state.plain_ah), kept(self.state.classic_ah))
        };
        let leak_ah = self.self_discharge_ah(dt_s / 3600.0);
        self.state.plain_ah = (self.state.plain_ah + plain_ah - leak_ah).min(capacity_ah);
        self.state.classic_ah = (self.state.classic_ah + classic_ah - leak_ah).min(capacity_ah);
        self.state.doubt.count(dt_s, moved_ah, plain_ah);
        self.state.load.add(dt_s, current_a, LOAD_CHANGE_RATE * self.bank.rated_capacity_ah);
    }

    /// How much an ampere-hour weighs when drawn at `load_a`: rated capacity over what the bank gives at that load.
    fn discharge_weight(&self, load_a: f64) -> f64 {
        let temperature_c = self.state.temperature_c.unwrap_or(REFERENCE_C);
        self.bank.rated_capacity_ah / self.bank.deliverable_when_full_ah(load_a, temperature_c)
    }

    fn self_discharge_ah(&self, hours: f64) -> f64 {
        self.bank.preset().self_discharge_per_day * hours / 24.0 * self.bank.rated_capacity_ah
    }

    /// A gap too long to bridge: the load before or after may have run all the time, or the worst standing load.
    fn gap(&mut self, dt_s: f64, from_a: f64, to_a: f64) {
        let out_a = (-from_a).max(-to_a).max(0.0);
        let in_a = from_a.max(to_a).max(0.0);
        let hours = dt_s / 3600.0;
        self.time_off(TimeOff::Known { seconds: dt_s });
        let beyond_standing_a = (out_a - self.bank.standing_load_a).max(0.0);
        self.state.doubt.unseen_out_ah += hours * beyond_standing_a;
        self.state.doubt.unseen_in_ah += hours * in_a;
    }

    fn watch_for_full(&mut self, dt_s: f64, reading: &Reading) -> Option<Fix> {
        let temperature_c = self.state.temperature_c.unwrap_or(REFERENCE_C);
        let rule = self.bank.full;
        let fullness = self.state.watch.look(&rule, dt_s, reading.voltage_v, reading.current_a, temperature_c);
        if fullness == Fullness::No {
            return None;
        }
        let before = (fullness == Fullness::Reached).then(|| self.report());
        self.state.plain_ah = self.bank.rated_capacity_ah;
        self.state.classic_ah = self.bank.rated_capacity_ah;
        self.state.doubt = Doubt::fresh(rule.soc_std_dev);
        self.state.start_known = true;
        self.state.seen_full = true;
        before.map(|before| Fix { kind: FixKind::Full, before, after: self.report() })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;
    use crate::reckoning::Reckoner;

    fn bank(chemistry: Chemistry) -> Bank {
        let mut bank = Bank::new("drive", chemistry, 24, 120.0, 20.0).expect("possible");
        bank.sensor.offset_a = 0.05;
        bank
    }

    fn run(counter: &mut Counter, from_s: u32, to_s: u32, current_a: f64, voltage_v: f64) -> Vec<Fix> {
        (from_s..to_s)
            .filter_map(|s| {
                counter.step(&Reading { t_s: f64::from(s), voltage_v, current_a, temperature_c: Some(25.0) })
            })
            .collect()
    }

    #[test]
    fn what_is_drawn_at_the_rated_current_is_what_is_missing() {
        // Common practice, no source: a bank with 8.9 Ah drawn since full that stands at 92.6 % holds about 120 Ah.
        let mut counter = Counter::new(bank(Chemistry::LeadCarbon), Start::Full);
        run(&mut counter, 0, 5341, -6.0, 50.0);
        let state = counter.report();
        let drawn = state.drawn_since_full_ah.expect("started full");
        assert!((drawn - 8.9).abs() < 0.03, "{drawn}");
        assert!((state.soc - 0.926).abs() < 0.001, "{}", state.soc);
    }

    #[test]
    fn a_hard_run_parts_the_counts_and_the_band_holds_both() {
        let mut counter = Counter::new(bank(Chemistry::LeadCarbon), Start::Full);
        run(&mut counter, 0, 2401, -100.0, 46.0);
        let state = counter.report();
        let plain = state.held_ah / state.capacity_ah;
        assert!(plain - state.soc > 0.05, "Peukert must take more than was drawn");
        assert!(state.soc_band.low < state.soc && state.soc_band.high > plain);
    }

    #[test]
    fn a_full_fix_needs_voltage_tail_and_time_and_then_resets_count_and_band() {
        let mut counter = Counter::new(bank(Chemistry::LeadCarbon), Start::Unknown);
        assert!((counter.report().soc_band.width() - 1.0).abs() < 1e-9);
        assert!(run(&mut counter, 0, 1790, 2.0, 57.6).is_empty());
        let fixes = run(&mut counter, 1790, 4000, 2.0, 57.6);
        assert_eq!(fixes.len(), 1);
        let state = counter.report();
        assert!(state.start_known && (state.soc - 1.0).abs() < 1e-12 && state.soc_band.width() < 0.03);
    }

    #[test]
    fn a_gap_under_load_widens_the_band_by_that_load_and_moves_nothing_else() {
        let mut counter = Counter::new(bank(Chemistry::Lfp), Start::At(0.9));
        run(&mut counter, 0, 60, -20.0, 78.0);
        let before = counter.report();
        counter.step(&Reading { t_s: 60.0 + 1200.0, voltage_v: 78.0, current_a: -20.0, temperature_c: None });
        let after = counter.report();
        assert!((before.soc - after.soc).abs() < 1e-3, "no silent guess");
        let drawn_meanwhile = 20.0 * 1201.0 / 3600.0 / 120.0;
        assert!(before.soc_band.low - after.soc_band.low >= drawn_meanwhile);
        assert!(after.soc_band.high <= before.soc_band.high + 1e-3);
    }

    #[test]
    fn a_saved_counter_goes_on_and_time_off_only_widens() {
        let mut counter = Counter::new(bank(Chemistry::Agm), Start::Full);
        run(&mut counter, 0, 4000, -10.0, 50.0);
        let before = counter.report();
        let mut again = Counter::resume(bank(Chemistry::Agm), &counter.save()).expect("own text");
        assert_eq!(again.report(), before);
        again.time_off(TimeOff::Known { seconds: 3600.0 });
        let after = again.report();
        assert!(after.soc <= before.soc && after.soc_band.low < before.soc_band.low);
        again.time_off(TimeOff::Unknown);
        assert!(again.report().soc_band.low < 1e-9);
        assert!(Counter::resume(bank(Chemistry::Agm), "{}").is_err());
    }

    #[test]
    fn a_current_that_flowed_when_the_watch_ended_may_have_run_on() {
        for current_a in [-10.0, 10.0] {
            let mut saved = Counter::new(bank(Chemistry::Agm), Start::At(0.5));
            run(&mut saved, 0, 100, current_a, 50.0);
            // Ten seconds more that were seen and not saved.
            let mut seen = saved.clone();
            run(&mut seen, 100, 110, current_a, 50.0);
            let off = TimeOff::Known { seconds: 10.0 };
            let again = Reckoner::resume(bank(Chemistry::Agm), &saved.save(), off).expect("own text").report();
            let seen = seen.report();
            assert!(again.soc_band.width() > seen.soc_band.width(), "{again:?} after {seen:?}");
            // But for what the sensor's own errors add in ten seconds, the band holds the one that was seen.
            let (again, seen) = (again.soc_band, seen.soc_band);
            assert!(again.low <= seen.low + 1e-4 && again.high >= seen.high - 1e-4, "{again:?} holds {seen:?}");
        }
    }

    #[test]
    fn readings_that_do_not_advance_are_ignored() {
        let mut counter = Counter::new(bank(Chemistry::Agm), Start::Full);
        run(&mut counter, 0, 100, -10.0, 50.0);
        let before = counter.report();
        run(&mut counter, 0, 100, -100.0, 50.0);
        assert_eq!(counter.report(), before);
    }
}
