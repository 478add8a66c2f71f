//! The made-up motor-sailer Marigold: two banks, what loads and feeds them, the voyage and the weather.

mod branch;
pub(crate) mod charger;
pub(crate) mod circuit;
mod household;
pub(crate) mod motion;
mod plan;
mod propulsion;
mod report;
mod skipper;
pub(crate) mod sky;

pub use branch::Branch;
pub use plan::{Order, Place, Plan, Run, Stay, THREE_WEEKS_S};
pub use report::{BankTruth, Device};

use crate::battery::{self, LeadBlock, LithiumCell};
use crate::shunt::Shunt;
use charger::Settings;
use circuit::Circuit;
use household::{Household, Surroundings};
use plan::Agenda;
use propulsion::Propulsion;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
pub use report::DEVICES;
use serde::{Deserialize, Serialize};
use skipper::Skipper;
use sky::Sky;

#[cfg(test)]
mod tests;

/// Longest inner step, s: loads switch within seconds, so longer steps would smear them.
const LONGEST_STEP_S: f64 = 10.0;
/// Panels: 700 W at 1000 W/m², four fifths of which arrive.
const SOLAR_W_PER_W_M2: f64 = 0.7 * 0.8;
/// Light by which the panels' controller begins its day, W/m² (assumed).
const SUNNY_W_PER_M2: f64 = 30.0;
/// Largest currents of the chargers, A.
const SHORE_DRIVE_A: f64 = 30.0;
const SHORE_HOUSE_A: f64 = 60.0;
const GENERATOR_DRIVE_A: f64 = 34.0;
const GENERATOR_HOUSE_A: f64 = 45.0;
/// Converter from drive to house bank: input power, W, and efficiency.
const CONVERTER_W: f64 = 300.0;
const CONVERTER_EFFICIENCY: f64 = 0.93;
/// Loads of the drive and the house bank are cut at these voltages, V.
const DRIVE_CUT_V: f64 = 43.2;
const HOUSE_CUT_V: f64 = 23.2;
/// The banks lie in lockers a little warmer than the air, K (assumed).
const LOCKER_WARMER_C: f64 = 1.0;

/// The boat. Everything that it does follows from the seed and the steps it was advanced by.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Boat {
    start_utc_s: i64,
    elapsed_s: f64,
    rng: Xoshiro256PlusPlus,
    plan: Plan,
    agenda: Agenda,
    sky: Sky,
    household: Household,
    propulsion: Propulsion,
    skipper: Skipper,
    drive: Circuit<LeadBlock>,
    house: Circuit<LithiumCell>,
    was_sunny: bool,
    shunts: Vec<Shunt>,
}

impl Boat {
    /// A boat in a marina with full banks at `start_utc_s` (seconds since 1970). Three weeks later it is in the middle of a passage.
    pub fn new(seed: u64, start_utc_s: i64) -> Self {
        let mut rng = Xoshiro256PlusPlus::seed_from_u64(seed);
        let utc_s = start_utc_s as f64;
        let sky = Sky::new(utc_s, &mut rng);
        let drive_bank = battery::drive_bank(&mut rng, sky.air_c());
        let house_bank = battery::house_bank(&mut rng, sky.air_c());
        let plan = Plan::new(seed, utc_s);
        Self {
            start_utc_s,
            elapsed_s: 0.0,
            agenda: plan.agenda(0.0),
            plan,
            sky,
            household: Household::new(&mut rng),
            propulsion: Propulsion::new(&mut rng),
            skipper: Skipper::default(),
            drive: Circuit::new(drive_bank, Settings::drive(), branch::DRIVE.len(), DRIVE_CUT_V),
            house: Circuit::new(house_bank, Settings::house(), branch::HOUSE.len(), HOUSE_CUT_V),
            was_sunny: false,
            shunts: DEVICES
                .iter()
                .zip(1..)
                .map(|(device, number)| Shunt::standard(device.channels, seed ^ (number << 32)))
                .collect(),
            rng,
        }
    }

    /// Moves everything on by `dt_s` (positive).
    pub fn advance(&mut self, dt_s: f64) {
        let mut left_s = dt_s;
        while left_s > 1e-9 {
            let step_s = left_s.min(LONGEST_STEP_S);
            self.step(step_s);
            left_s -= step_s;
        }
    }

    fn step(&mut self, dt_s: f64) {
        self.elapsed_s += dt_s;
        let utc_s = self.utc_s();
        self.sky.step(dt_s, utc_s, &mut self.rng);
        if self.elapsed_s >= self.agenda.valid_until_s {
            self.turn_page();
        }
        let (drive_soc, house_soc) = (self.drive.bank().true_soc(), self.house.bank().true_soc());
        if self.skipper.mind_generator(&self.agenda, drive_soc) {
            self.restart_charging();
        }
        self.skipper.mind_converter(self.agenda.place, drive_soc, house_soc);
        let (drive_a, house_a) = (self.drive_wants(dt_s), self.house_wants(dt_s, utc_s));
        self.propulsion.warm(dt_s);
        let ambient_c = self.sky.air_c() + LOCKER_WARMER_C;
        self.drive.step(dt_s, &drive_a, ambient_c);
        self.house.step(dt_s, &house_a, ambient_c);
    }

    fn restart_charging(&mut self) {
        self.drive.restart_charging();
        self.house.restart_charging();
    }

    /// Reads the plan for what is to be done from now.
    fn turn_page(&mut self) {
        let before = self.agenda.place;
        self.plan.extend_to(self.elapsed_s);
        self.agenda = self.plan.agenda(self.elapsed_s);
        if self.agenda.place == Place::Marina && before != Place::Marina {
            self.restart_charging();
        }
    }

    /// What the branches of the drive bank want, A, in the order of their names.
    fn drive_wants(&mut self, dt_s: f64) -> [f64; branch::DRIVE.len()] {
        let voltage_v = self.drive.bank().voltage_v();
        let place = self.agenda.place;
        let shaft = self.propulsion.step(dt_s, self.agenda.drive, place == Place::Passage, &mut self.rng);
        [
            -shaft.motor_w / voltage_v,
            shaft.regeneration_w / voltage_v,
            when(self.skipper.runs_generator(), GENERATOR_DRIVE_A),
            when(place == Place::Marina, SHORE_DRIVE_A),
            when(self.skipper.runs_converter(), -CONVERTER_W / voltage_v),
            -shaft.standing_w / voltage_v,
        ]
    }

    /// What the branches of the house bank want, A, in the order of their names.
    fn house_wants(&mut self, dt_s: f64, utc_s: f64) -> [f64; branch::HOUSE.len()] {
        let sunny = self.sky.irradiance_w_per_m2() > SUNNY_W_PER_M2;
        if sunny && !self.was_sunny {
            self.house.restart_charging();
        }
        self.was_sunny = sunny;
        let bank = self.house.bank();
        let voltage_v = bank.voltage_v();
        let place = self.agenda.place;
        let around =
            Surroundings { utc_s, place, air_c: self.sky.air_c(), dark: self.sky.is_dark(), soc: bank.true_soc() };
        let loads_w = self.household.step(dt_s, around, &mut self.rng);
        [
            -loads_w / voltage_v,
            SOLAR_W_PER_W_M2 * self.sky.irradiance_w_per_m2() / voltage_v,
            when(self.skipper.runs_generator(), GENERATOR_HOUSE_A),
            when(place == Place::Marina, SHORE_HOUSE_A),
            when(self.skipper.runs_converter(), CONVERTER_W * CONVERTER_EFFICIENCY / voltage_v),
        ]
    }

    /// The moment, seconds since 1970 in UTC.
    pub fn utc_s(&self) -> f64 {
        self.start_utc_s as f64 + self.elapsed_s
    }

    /// Seconds since the start.
    pub fn elapsed_s(&self) -> f64 {
        self.elapsed_s
    }

    /// Where the boat is.
    pub fn place(&self) -> Place {
        self.agenda.place
    }

    /// The voyage as far as it is drawn.
    pub fn plan(&self) -> &Plan {
        &self.plan
    }

    /// What is true of each bank now: drive, then house.
    pub fn banks(&self) -> [BankTruth; 2] {
        [BankTruth::of("drive", &self.drive), BankTruth::of("house", &self.house)]
    }

    /// The devices aboard; their indices are those of [`Boat::read`].
    pub fn devices(&self) -> &'static [Device] {
        &DEVICES
    }

    /// What a device reports now, in the order of its channels; `values` is emptied first. Each reading draws fresh noise.
    ///
    /// # Panics
    /// If there is no device of that index.
    pub fn read(&mut self, device_index: usize, values: &mut Vec<f64>) {
        values.clear();
        let device = &DEVICES[device_index];
        match device.bank {
            "drive" => report::true_values(&self.drive, &branch::DRIVE, device, values),
            _ => report::true_values(&self.house, &branch::HOUSE, device, values),
        }
        if device.reports_drive() {
            let (speed_kn, rpm) = self.propulsion.speed(self.agenda.place == Place::Passage);
            values.extend([self.sky.air_c() + self.propulsion.warmer_k(), rpm, speed_kn]);
        }
        self.shunts[device_index].report(values);
    }

    /// True currents of every branch.
    pub fn branches(&self) -> impl Iterator<Item = Branch> + '_ {
        self.drive.branches("drive", &branch::DRIVE).chain(self.house.branches("house", &branch::HOUSE))
    }
}

/// A current while a switch is on, else nought.
fn when(on: bool, current_a: f64) -> f64 {
    if on { current_a } else { 0.0 }
}
