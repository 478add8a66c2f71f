//! Living: from one switching to the next, and what the devices say meanwhile.

use rand::{Rng, SeedableRng};
use rand_xoshiro::Xoshiro256PlusPlus;
use std::f64::consts::TAU;

use super::report::{BRANCHES, MAIN, METERED};
use super::{DAY_S, Drive, HOUR_S, Hour, Life, Place, RATED_AH, START_UTC_S, Test, YEAR_S, YEARS, year_begin_s};
use crate::battery::{Bank, LeadBlock};
use crate::boat::sky::Wander;

/// Circuits on the bank: those that are metered, and the load that nobody knows of.
pub const CIRCUITS: usize = METERED + 1;
/// Loads are cut at this voltage, V: just below the end of a test.
pub const CUT_V: f64 = 41.9;
/// Largest currents of the chargers, A.
const SHORE_A: f64 = 30.0;
const GENERATOR_A: f64 = 34.0;
/// Panels: 240 W at 1000 W/m², four fifths of which arrive; and the light by which their day begins, W/m².
const SOLAR_W_PER_W_M2: f64 = 0.24 * 0.8;
const SUNNY_W_PER_M2: f64 = 30.0;
/// Away from shore power the generator starts at the first state of charge and stops at the second.
const GENERATOR_STARTS: f64 = 0.35;
const GENERATOR_STOPS: f64 = 0.85;
/// Load of a capacity test, A: the rated current. And its cut-off, V a cell: that of the rating.
pub const TEST: (f64, f64) = (RATED_AH / 20.0, 1.75);
/// Cells in series.
pub const CELLS: f64 = 24.0;
/// Lengths of inner steps, s, and from how long after a switching they are taken, s.
const STEPS: [(i64, i64); 6] = [(60, 1800), (30, 300), (10, 10), (6, 4), (3, 1), (1, 0)];
/// Step while a charger throttles and the current still moves by more than this in one, A.
const THROTTLED_STEP_S: i64 = 10;
const MOVES_A: f64 = 0.05;
/// The bank lies in a locker a little warmer than the air, K (assumed).
const LOCKER_WARMER_C: f64 = 1.0;

/// Air through the year and the day.
#[derive(Clone, Debug)]
pub struct Air {
    wander: Wander,
    weather: f64,
    celsius: f64,
}

impl Air {
    /// Air on the first day.
    pub fn new(rng: &mut impl Rng) -> Self {
        let mut air = Self { wander: Wander::new(2.0 * DAY_S as f64, rng), weather: 0.0, celsius: 0.0 };
        air.hour(0, rng);
        air
    }

    /// Temperature, °C.
    pub fn celsius(&self) -> f64 {
        self.celsius
    }

    /// The air of the hour that begins: warmest in early August and at three in the afternoon (sizes assumed).
    fn hour(&mut self, t_s: i64, rng: &mut impl Rng) {
        self.weather = self.wander.step(HOUR_S as f64, rng);
        let year = ((t_s - 126 * DAY_S) as f64 / YEAR_S * TAU).cos();
        let day = ((t_s - 15 * HOUR_S) as f64 / DAY_S as f64 * TAU).cos();
        self.celsius = 15.5 + 6.5 * year + 3.0 * day + 1.5 * self.weather;
    }
}

/// What a seaway adds to the motor's current, in parts of it: forgets itself within seconds.
#[derive(Clone, Debug)]
pub struct Ripple {
    sea: Wander,
    rng: Xoshiro256PlusPlus,
    part: f64,
}

impl Ripple {
    /// A sea drawn from a seed.
    pub fn new(seed: u64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        Self { sea: Wander::new(7.0, &mut rng), rng, part: 0.0 }
    }
}

/// What the switches stand at.
#[derive(Clone, Debug)]
pub struct Switches {
    /// When something was switched last, s.
    edge_s: i64,
    /// What it was switched to.
    stand: Stand,
    generator: bool,
    sunny: bool,
    /// Until when nothing switches by itself.
    until_s: i64,
    /// By how much the current moved with the last step, A.
    moves_a: f64,
}

/// Everything that switches, so that a change is seen.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Stand {
    place: Place,
    motor_w: f64,
    standing_w: f64,
    converter_w: f64,
    generator: bool,
    shore: bool,
    test_a: f64,
    unaccounted_a: f64,
}

impl Switches {
    /// Everything off at a moment.
    pub fn new(t_s: i64) -> Self {
        let stand = Stand {
            place: Place::LaidUp,
            motor_w: 0.0,
            standing_w: 0.0,
            converter_w: 0.0,
            generator: false,
            shore: false,
            test_a: 0.0,
            unaccounted_a: 0.0,
        };
        Self { edge_s: t_s, stand, generator: false, sunny: false, until_s: 0, moves_a: 0.0 }
    }
}

/// The bank at the two ends of a step, and the currents through it.
#[derive(Clone, Debug)]
pub struct Step {
    begin_s: i64,
    ends: [[f64; 6]; 2],
    currents_a: [f64; CIRCUITS],
    current_a: f64,
    /// Resistance to a change of current within a second, ohm.
    fast_ohm: f64,
}

impl Step {
    /// A bank at rest.
    pub fn resting(bank: &Bank<LeadBlock>) -> Self {
        let end = end_of(bank);
        Self { begin_s: 0, ends: [end; 2], currents_a: [0.0; CIRCUITS], current_a: 0.0, fast_ohm: 0.02 }
    }
}

/// Voltage, temperature, voltages of the monoblocs.
fn end_of(bank: &Bank<LeadBlock>) -> [f64; 6] {
    let mut end = [bank.voltage_v(), bank.temperature_c(), 0.0, 0.0, 0.0, 0.0];
    for (value, voltage_v) in end[2..].iter_mut().zip(bank.monobloc_voltages_v()) {
        *value = voltage_v;
    }
    end
}

impl Life {
    /// Lives an hour and says what was reported in it; false once the ten years are over.
    pub fn live_hour(&mut self, hour: &mut Hour) -> bool {
        hour.main_s.clear();
        hour.main.clear();
        hour.branches_s.clear();
        hour.branches.clear();
        if self.t_s >= year_begin_s(YEARS) {
            return false;
        }
        if self.t_s % DAY_S == 0 {
            self.clockwork.tell(self.circuit.bank_mut(), &self.script, self.t_s);
            self.sensors.offset_change_a = self.script.offset_change_a(self.t_s);
        }
        self.air.hour(self.t_s, &mut self.rng);
        let until_s = self.t_s + HOUR_S;
        while self.t_s < until_s {
            self.live_step(until_s);
            self.report(hour);
        }
        true
    }

    fn live_step(&mut self, until_s: i64) {
        self.turn_page();
        let t_s = self.t_s;
        let (stand, power_w) = self.switch();
        if stand != self.switches.stand {
            self.switches.edge_s = t_s;
            self.switches.stand = stand;
        }
        let wanted_a = self.wanted(&stand, power_w);
        let before_a = self.step.current_a;
        let dt_s = self.step_length(until_s.min(self.switches.until_s), wanted_a.iter().sum());
        let before = end_of(self.circuit.bank());
        self.circuit.step(dt_s as f64, &wanted_a, self.air.celsius() + LOCKER_WARMER_C);
        let bank = self.circuit.bank();
        self.step.ends = [before, end_of(bank)];
        self.step.begin_s = t_s;
        self.step.current_a = bank.current_a();
        self.step.currents_a.copy_from_slice(self.circuit.currents_a());
        if dt_s == 1 {
            self.step.fast_ohm = bank.slope_ohm();
        }
        self.switches.moves_a = (self.step.current_a - before_a).abs();
        self.sky.step(dt_s as f64, (START_UTC_S + t_s + dt_s) as f64, &mut self.rng);
        self.propulsion.warm(dt_s as f64);
        self.t_s = t_s + dt_s;
        self.mind_test(stand.test_a);
    }

    /// Goes on to what the plan says of now.
    fn turn_page(&mut self) {
        let begun = self.plan.segments[self.segment + 1..].iter().take_while(|next| next.begin_s <= self.t_s).count();
        if begun > 0 || self.t_s == 0 {
            self.segment += begun;
            let now = self.plan.segments[self.segment];
            self.propulsion.order(self.t_s, now.drive, &mut self.rng);
            if now.place == Place::Testing && now.begin_s == self.t_s {
                let (load_a, cut_off_v) = TEST;
                let temperature_c = self.circuit.bank().temperature_c();
                self.tests.push(Test { begin_s: self.t_s, end_s: None, load_a, cut_off_v, temperature_c });
            }
        }
    }

    /// Where everything that switches stands from now on; with it the power of the propeller, which may drift (positive charges, W).
    fn switch(&mut self) -> (Stand, f64) {
        let t_s = self.t_s;
        let place = self.plan.segments[self.segment].place;
        let (powers, household_s) = self.household.at(t_s, place, self.air.celsius(), &mut self.rng);
        let (power_w, drive_s) = self.propulsion.at(t_s, &mut self.rng);
        let test = self.tests.last().filter(|test| test.end_s.is_none());
        let test_a = test.map_or(0.0, |test| test.load_a);
        let shore = match place {
            Place::LaidUp | Place::Berth => true,
            Place::Testing => test.is_none(),
            Place::Resting | Place::Anchor | Place::UnderWay => false,
        };
        let sunny = self.sky.irradiance_w_per_m2() > SUNNY_W_PER_M2;
        let generator = self.wants_generator(place);
        let begins = (shore && !self.switches.stand.shore)
            || (generator && !self.switches.generator)
            || (sunny && !self.switches.sunny);
        if begins {
            self.circuit.restart_charging();
        }
        self.switches.generator = generator;
        self.switches.sunny = sunny;
        let unaccounted = self.script.unaccounted;
        let unaccounted_a = if unaccounted.stretch.holds(t_s) { f64::from(unaccounted.draws_ma) / 1000.0 } else { 0.0 };
        let next = self.plan.segments.get(self.segment + 1).map_or(i64::MAX, |next| next.begin_s);
        let ends = [unaccounted.stretch.begin_s, unaccounted.stretch.end_s].into_iter().filter(|end_s| *end_s > t_s);
        self.switches.until_s = ends.fold(next.min(household_s).min(drive_s), i64::min);
        let stand = Stand {
            place,
            motor_w: (-power_w).max(0.0),
            standing_w: powers.standing_w,
            converter_w: powers.converter_w,
            generator,
            shore,
            test_a,
            unaccounted_a,
        };
        (stand, power_w)
    }

    fn wants_generator(&self, place: Place) -> bool {
        let away = matches!(place, Place::Anchor | Place::UnderWay);
        let stops = if self.switches.generator { GENERATOR_STOPS } else { GENERATOR_STARTS };
        away && self.soc() < stops
    }

    /// What the circuits want, A, in their order; sources as much as they could give.
    fn wanted(&self, stand: &Stand, power_w: f64) -> [f64; CIRCUITS] {
        let voltage_v = self.circuit.bank().voltage_v();
        // In winter the panels are covered.
        let light = if stand.place.is_lived_in() { self.sky.irradiance_w_per_m2() } else { 0.0 };
        let when = |on: bool, current_a: f64| if on { current_a } else { 0.0 };
        // Under test the load is all that draws, held to its current.
        let standing_a = if stand.test_a > 0.0 { stand.test_a } else { stand.standing_w / voltage_v };
        [
            -stand.motor_w / voltage_v,
            power_w.max(0.0) / voltage_v,
            when(stand.generator, GENERATOR_A),
            when(stand.shore, SHORE_A),
            -stand.converter_w / voltage_v,
            -standing_a,
            SOLAR_W_PER_W_M2 * light / voltage_v,
            -stand.unaccounted_a,
        ]
    }

    fn step_length(&self, until_s: i64, wanted_a: f64) -> i64 {
        let since_s = self.t_s - self.switches.edge_s;
        let by_ladder = STEPS.iter().find(|(_, from_s)| since_s >= *from_s).map_or(1, |(length_s, _)| *length_s);
        let throttled = (wanted_a - self.step.current_a).abs() > MOVES_A && self.switches.moves_a > MOVES_A;
        let tested = self.switches.stand.test_a > 0.0;
        let most_s = if throttled || tested { by_ladder.min(THROTTLED_STEP_S) } else { by_ladder };
        most_s.min(until_s - self.t_s)
    }

    /// Ends a test at its cut-off.
    fn mind_test(&mut self, test_a: f64) {
        let bank = self.circuit.bank();
        if test_a > 0.0
            && let Some(test) = self.tests.last_mut()
            && (bank.voltage_v() <= CELLS * test.cut_off_v || bank.current_a() > -0.99 * test_a)
        {
            test.end_s = Some(self.t_s);
        }
    }

    /// What the devices say within the step just lived.
    fn report(&mut self, hour: &mut Hour) {
        let Step { begin_s, ends: [from, to], currents_a, current_a, fast_ohm } = self.step;
        let motors = matches!(self.plan.segments[self.segment].drive, Drive::Motor(_));
        let length_s = (self.t_s - begin_s) as f64;
        let rhythm_s = self.rhythm.main_s;
        let mut t_s = begin_s - begin_s.rem_euclid(rhythm_s) + rhythm_s;
        while t_s <= self.t_s {
            let part = (t_s - begin_s) as f64 / length_s;
            let between = |place: usize| from[place] + (to[place] - from[place]) * part;
            let mut ripple_a = 0.0;
            if motors {
                let sea = self.ripple.sea.step(rhythm_s as f64, &mut self.ripple.rng);
                self.ripple.part = 0.05 * sea;
                ripple_a = self.ripple.part * currents_a[0];
            }
            let ripple_v = fast_ohm * ripple_a;
            let mut truth = [0.0; MAIN.len()];
            truth[0] = between(0) + ripple_v;
            truth[1] = current_a + ripple_a;
            truth[2] = between(1);
            for block in 0..4 {
                truth[3 + block] = between(2 + block) + 0.25 * ripple_v;
            }
            hour.main_s.push(t_s);
            hour.main.push(self.sensors.main(truth));
            if t_s % self.rhythm.branches_s == 0 {
                hour.branches_s.push(t_s);
                hour.branches.push(self.report_branches(currents_a, ripple_a));
            }
            t_s += rhythm_s;
        }
    }

    fn report_branches(&mut self, currents_a: [f64; CIRCUITS], ripple_a: f64) -> [f64; BRANCHES.len()] {
        let mut truth = [0.0; BRANCHES.len()];
        truth[..METERED].copy_from_slice(&currents_a[..METERED]);
        truth[0] += ripple_a;
        let (speed_kn, rpm) = self.propulsion.speed(self.switches.stand.place == Place::UnderWay);
        truth[METERED] = self.air.celsius() + self.propulsion.warmer_k();
        truth[METERED + 1] = rpm;
        truth[METERED + 2] = speed_kn;
        self.sensors.branches(truth)
    }
}
