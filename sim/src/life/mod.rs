//! A decade aboard: one lead-carbon drive bank lived with for ten years, fast enough to be stored second by second within minutes.
//!
//! The battery is the same as the demo's, and the life around it simpler: a plan drawn beforehand, powers that are held between switchings. Inner steps end
//! where something switches; after that they are 1 s, 3 s, 6 s, then 10 s, and up to a minute once nothing has moved for long. Between the ends of a step the
//! voltage goes in a straight line, so a switching shows within its second. What a seaway adds to the motor's current comes and goes within seconds; it is laid
//! over the step's mean with the voltage that it costs at the resistance of a second's step.
//!
//! What is true is known beforehand wherever it is laid down ([`Script`], [`Plan`]), and noted where it is lived ([`Test`]).

mod ageing;
mod drive;
mod household;
mod plan;
mod report;
mod script;
mod step;
#[cfg(test)]
mod tests;

pub use plan::{Drive, Place, Plan, Segment};
pub use report::{BRANCHES, MAIN};
pub use script::{BEHIND, END_OF_LIFE, OffsetChange, Script, Stretch, Unaccounted, Weak, YEARS, year_begin_s};

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

use crate::battery::{self, Ageing, Bank, LeadBlock};
use crate::boat::charger::Settings;
use crate::boat::circuit::Circuit;
use crate::boat::sky::Sky;
use ageing::Clockwork;
use drive::Propulsion;
use household::Household;
use report::Sensors;
pub use step::{CELLS, TEST};
use step::{CIRCUITS, Step};

const HOUR_S: i64 = 3600;
const DAY_S: i64 = 86_400;
const YEAR_S: f64 = 365.25 * 86_400.0;
/// Nameplate capacity at the 20 h rate, Ah.
pub const RATED_AH: f64 = 120.0;
/// Beginning of every decade: 2026-04-01T00:00:00Z, s since 1970.
pub const START_UTC_S: i64 = 1_774_996_800;

/// A capacity test as it was lived.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Test {
    /// Beginning of the discharge, s since the start.
    pub begin_s: i64,
    /// Moment when the cut-off was reached; `None` while it goes on.
    pub end_s: Option<i64>,
    /// Load, A.
    pub load_a: f64,
    /// Cut-off of a cell, V.
    pub cut_off_v: f64,
    /// Temperature of the bank at the beginning, °C.
    pub temperature_c: f64,
}

/// An hour of reports.
#[derive(Clone, Debug, Default)]
pub struct Hour {
    /// Moments of the main device's reports, s since the start.
    pub main_s: Vec<i64>,
    /// What it reported, in the order of [`MAIN`].
    pub main: Vec<[f64; MAIN.len()]>,
    /// Moments of the branches' reports, s since the start.
    pub branches_s: Vec<i64>,
    /// What they reported, in the order of [`BRANCHES`].
    pub branches: Vec<[f64; BRANCHES.len()]>,
}

/// What is true of the bank at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    /// Seconds since the start.
    pub t_s: i64,
    /// Charge held / capacity, 0..1.
    pub soc: f64,
    /// Capacity at the 20 h rate and 25 °C, Ah.
    pub capacity_ah: f64,
    /// Ohmic resistance relative to new.
    pub resistance_factor: f64,
    /// How far the weak monobloc is behind the mean of the others.
    pub behind: f64,
    /// Current, A; positive charges.
    pub current_a: f64,
    /// Voltage, V.
    pub voltage_v: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
}

/// The rhythm of the reports.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rhythm {
    /// Seconds between two reports of the main device; divides an hour.
    pub main_s: i64,
    /// Seconds between two reports of the branches; divides an hour.
    pub branches_s: i64,
}

/// The life.
#[derive(Clone, Debug)]
pub struct Life {
    rhythm: Rhythm,
    t_s: i64,
    script: Script,
    plan: Plan,
    segment: usize,
    clockwork: Clockwork,
    circuit: Circuit<LeadBlock>,
    sky: Sky,
    air: step::Air,
    household: Household,
    propulsion: Propulsion,
    sensors: Sensors,
    tests: Vec<Test>,
    /// What the rest of the day, and the switches, stand at.
    switches: step::Switches,
    step: Step,
    ripple: step::Ripple,
    rng: Xoshiro256PlusPlus,
}

impl Life {
    /// A new bank on 1 April, laid up on shore power.
    pub fn new(seed: u64, rhythm: Rhythm) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        let script = Script::draw(&mut rng);
        let plan = Plan::draw(Xoshiro256PlusPlus::seed_from_u64(rng_seed(seed, 1)), &script);
        let air = step::Air::new(&mut rng);
        let sky = Sky::new(START_UTC_S as f64, &mut rng);
        let bank = battery::aged_drive_bank(&mut rng, air.celsius(), Ageing::scripted(1.0, 1.0));
        let clockwork = Clockwork::new(&bank, &script);
        let circuit = Circuit::new(bank, Settings::drive(), CIRCUITS, step::CUT_V);
        Self {
            rhythm,
            t_s: 0,
            step: Step::resting(circuit.bank()),
            plan,
            segment: 0,
            clockwork,
            circuit,
            sky,
            air,
            household: Household::new(),
            propulsion: Propulsion::new(),
            sensors: Sensors::new(rng_seed(seed, 2)),
            tests: Vec::new(),
            switches: step::Switches::new(0),
            ripple: step::Ripple::new(rng_seed(seed, 3)),
            script,
            rng,
        }
    }

    /// What is laid down for the decade.
    pub fn script(&self) -> &Script {
        &self.script
    }

    /// Where the boat goes, and the passages.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// The capacity tests so far.
    pub fn tests(&self) -> &[Test] {
        &self.tests
    }

    /// The bank as it is.
    pub fn bank(&self) -> &Bank<LeadBlock> {
        self.circuit.bank()
    }

    /// Capacity at the 20 h rate and 25 °C at any moment of the decade, Ah.
    pub fn capacity_ah(&self, t_s: i64) -> f64 {
        self.clockwork.capacity_ah(&self.script, t_s)
    }

    /// How far the weak monobloc's own capacity is behind the mean of the others', at any moment of the decade.
    pub fn behind(&self, t_s: i64) -> f64 {
        self.clockwork.behind(&self.script, t_s)
    }

    /// What a load of the 5 h rate costs in its first second at any moment of the decade, as a resistance, at four fifths of charge, at rest before and at
    /// 25 °C, ohm. Found on a copy, which takes some milliseconds.
    pub fn step_ohm(&self, t_s: i64) -> f64 {
        self.clockwork.step_ohm(&self.script, t_s)
    }

    /// The first day's beginning at which the bank holds less than four fifths of its rated capacity, s since the start.
    pub fn end_of_life_s(&self) -> Option<i64> {
        let days = (0..year_begin_s(YEARS) / DAY_S).map(|day| day * DAY_S);
        days.into_iter().find(|t_s| self.capacity_ah(*t_s) < END_OF_LIFE * RATED_AH)
    }

    /// What is true now.
    pub fn now(&self) -> Now {
        let bank = self.circuit.bank();
        Now {
            t_s: self.t_s,
            soc: self.soc(),
            capacity_ah: self.capacity_ah(self.t_s),
            resistance_factor: self.script.resistance_factor(self.t_s),
            behind: self.behind(self.t_s),
            current_a: bank.current_a(),
            voltage_v: bank.voltage_v(),
            temperature_c: bank.temperature_c(),
        }
    }

    fn soc(&self) -> f64 {
        1.0 - self.circuit.bank().discharged_ah() / self.capacity_ah(self.t_s)
    }
}

/// A seed of its own for each purpose.
fn rng_seed(seed: u64, purpose: u64) -> u64 {
    seed ^ (purpose << 40)
}

/// Whole seconds.
#[expect(clippy::cast_possible_truncation, reason = "times within a decade")]
fn whole(seconds: f64) -> i64 {
    seconds.round() as i64
}
