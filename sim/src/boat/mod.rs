//! The made-up motor-sailer Marigold: two banks, what loads and feeds them, the voyage and the weather.

mod branch;
mod charger;
mod household;
mod plan;
mod propulsion;
mod sky;

pub use branch::Branch;
pub use plan::{Order, Place, Plan, Run, Stay, THREE_WEEKS_S};

use crate::battery::{self, Bank, LeadBlock, LithiumCell, Request};
use crate::shunt::Shunt;
use branch::Currents;
use charger::{Charger, Settings};
use household::{Household, Surroundings};
use plan::Agenda;
use propulsion::Propulsion;
use rand::SeedableRng;
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};
use sky::Sky;

#[cfg(test)]
mod tests;

/// Longest inner step, s: loads switch within seconds, so longer steps would smear them.
const LONGEST_STEP_S: f64 = 10.0;
/// Panels: 700 W at 1000 W/m², four fifths of which arrive.
const SOLAR_W_PER_W_M2: f64 = 0.7 * 0.8;
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
/// The generator starts by itself below this state of charge of the drive bank and then runs to the second.
const GENERATOR_STARTS: f64 = 0.36;
const GENERATOR_STOPS: f64 = 0.75;

/// The banks lie in lockers a little warmer than the air, K (assumed).
const LOCKER_WARMER_C: f64 = 1.0;

/// What is true of a bank at this moment.
#[derive(Clone, Debug, PartialEq)]
pub struct BankTruth {
    /// "drive" or "house".
    pub name: &'static str,
    /// Charge held / capacity, 0..1.
    pub soc: f64,
    /// Capacity at the 20 h rate and 25 °C at the present age, Ah.
    pub capacity_ah: f64,
    /// Current, A; positive charges.
    pub current_a: f64,
    /// Voltage, V.
    pub voltage_v: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// Voltage of each monobloc, V.
    pub monobloc_v: Vec<f64>,
}

/// A device that reports on a bank.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Device {
    /// Its name.
    pub name: &'static str,
    /// The bank it is on.
    pub bank: &'static str,
    /// Its channels in the order of [`Boat::read`].
    pub channels: &'static [&'static str],
}

/// The devices aboard.
pub const DEVICES: [Device; 2] = [
    Device {
        name: "drive-shunt",
        bank: "drive",
        channels: &[
            "voltage_v",
            "current_a",
            "temperature_c",
            "monobloc_1_v",
            "monobloc_2_v",
            "monobloc_3_v",
            "monobloc_4_v",
        ],
    },
    Device { name: "house-shunt", bank: "house", channels: &["voltage_v", "current_a", "temperature_c"] },
];

/// The boat. Everything that it does follows from the seed and the steps it was advanced by.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Boat {
    start_utc_s: i64,
    elapsed_s: f64,
    rng: ChaCha8Rng,
    plan: Plan,
    agenda: Agenda,
    sky: Sky,
    household: Household,
    propulsion: Propulsion,
    drive: Bank<LeadBlock>,
    house: Bank<LithiumCell>,
    drive_charger: Charger,
    house_charger: Charger,
    drive_currents: Currents,
    house_currents: Currents,
    generator: Generator,
    converter_on: bool,
    was_sunny: bool,
    shunts: Vec<Shunt>,
}

/// The generator: the level it runs to while on, and the last planned run it served.
#[derive(Clone, Debug, Serialize, Deserialize)]
struct Generator {
    until_soc: Option<f64>,
    served_s: Option<f64>,
}

impl Boat {
    /// A boat in a marina with full banks at `start_utc_s` (seconds since 1970). Three weeks later it is in the middle of a passage.
    pub fn new(seed: u64, start_utc_s: i64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(seed);
        let utc_s = start_utc_s as f64;
        let sky = Sky::new(utc_s, &mut rng);
        let drive = battery::drive_bank(&mut rng, sky.air_c());
        let house = battery::house_bank(&mut rng, sky.air_c());
        let plan = Plan::new(seed, utc_s);
        Self {
            start_utc_s,
            elapsed_s: 0.0,
            agenda: plan.agenda(0.0),
            plan,
            sky,
            household: Household::new(&mut rng),
            propulsion: Propulsion::new(&mut rng),
            drive,
            house,
            drive_charger: Charger::new(Settings::drive()),
            house_charger: Charger::new(Settings::house()),
            drive_currents: Currents::dead(branch::DRIVE.len()),
            house_currents: Currents::dead(branch::HOUSE.len()),
            generator: Generator { until_soc: None, served_s: None },
            converter_on: false,
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
        self.run_generator();
        self.run_converter();
        self.want_drive(dt_s);
        self.want_house(dt_s, utc_s);
        self.drive_step(dt_s);
        self.house_step(dt_s);
    }

    /// Reads the plan for what is to be done from now.
    fn turn_page(&mut self) {
        let before = self.agenda.place;
        self.plan.extend_to(self.elapsed_s);
        self.agenda = self.plan.agenda(self.elapsed_s);
        if self.agenda.place == Place::Marina && before != Place::Marina {
            self.drive_charger.restart();
            self.house_charger.restart();
        }
    }

    /// The skipper's rule: as planned, or when the drive bank is low; off when the level is reached, the bank takes no more, or shore power is there.
    fn run_generator(&mut self) {
        let soc = self.drive.true_soc();
        let planned =
            self.agenda.generate.filter(|(begin_s, level)| self.generator.served_s != Some(*begin_s) && soc < *level);
        let in_marina = self.agenda.place == Place::Marina;
        match self.generator.until_soc {
            Some(level) if soc >= level || in_marina => self.generator.until_soc = None,
            Some(_) => (),
            None if in_marina => (),
            None => {
                if let Some((begin_s, level)) = planned {
                    self.generator = Generator { until_soc: Some(level), served_s: Some(begin_s) };
                } else if soc < GENERATOR_STARTS {
                    self.generator.until_soc = Some(GENERATOR_STOPS);
                }
                if self.generator.until_soc.is_some() {
                    self.drive_charger.restart();
                    self.house_charger.restart();
                }
            }
        }
    }

    /// The converter helps the house bank when that is low and the drive bank is not.
    fn run_converter(&mut self) {
        let (house, drive) = (self.house.true_soc(), self.drive.true_soc());
        let charging = self.agenda.place == Place::Marina || self.generator.until_soc.is_some();
        if charging || house > 0.40 || drive < 0.5 {
            self.converter_on = false;
        } else if house < 0.30 && drive > 0.6 {
            self.converter_on = true;
        }
    }

    fn want_drive(&mut self, dt_s: f64) {
        let voltage_v = self.drive.voltage_v();
        let under_way = self.agenda.place == Place::Passage;
        let shaft = self.propulsion.step(dt_s, self.agenda.drive, under_way, &mut self.rng);
        let generator_a = if self.generator.until_soc.is_some() { GENERATOR_DRIVE_A } else { 0.0 };
        let shore_a = if self.agenda.place == Place::Marina { SHORE_DRIVE_A } else { 0.0 };
        let converter_a = if self.converter_on { -CONVERTER_W / voltage_v } else { 0.0 };
        let wanted = [
            -shaft.motor_w / voltage_v,
            shaft.regeneration_w / voltage_v,
            generator_a,
            shore_a,
            converter_a,
            -shaft.standing_w / voltage_v,
        ];
        self.drive_currents.0.copy_from_slice(&wanted);
    }

    fn want_house(&mut self, dt_s: f64, utc_s: f64) {
        let voltage_v = self.house.voltage_v();
        let sunny = self.sky.irradiance_w_per_m2() > 30.0;
        if sunny && !self.was_sunny {
            self.house_charger.restart();
        }
        self.was_sunny = sunny;
        let around = Surroundings {
            utc_s,
            place: self.agenda.place,
            air_c: self.sky.air_c(),
            dark: self.sky.is_dark(),
            soc: self.house.true_soc(),
        };
        let loads_w = self.household.step(dt_s, around, &mut self.rng);
        let solar_w = SOLAR_W_PER_W_M2 * self.sky.irradiance_w_per_m2();
        let generator_a = if self.generator.until_soc.is_some() { GENERATOR_HOUSE_A } else { 0.0 };
        let shore_a = if self.agenda.place == Place::Marina { SHORE_HOUSE_A } else { 0.0 };
        let converter_a = if self.converter_on { CONVERTER_W * CONVERTER_EFFICIENCY / voltage_v } else { 0.0 };
        self.house_currents.0.copy_from_slice(&[
            -loads_w / voltage_v,
            solar_w / voltage_v,
            generator_a,
            shore_a,
            converter_a,
        ]);
    }

    fn drive_step(&mut self, dt_s: f64) {
        let temperature_c = self.drive.temperature_c();
        let (loads_a, sources_a) = self.drive_currents.wanted();
        let max_charge_v = self.drive_charger.limit_v(temperature_c);
        let request =
            Request { current_a: loads_a + sources_a, floor_a: loads_a, max_charge_v, min_discharge_v: DRIVE_CUT_V };
        let net_a = self.drive.step(dt_s, request, self.sky.air_c() + LOCKER_WARMER_C);
        self.drive_currents.settle(net_a);
        self.drive_charger.step(dt_s, self.drive.voltage_v(), net_a, temperature_c);
    }

    fn house_step(&mut self, dt_s: f64) {
        let temperature_c = self.house.temperature_c();
        let (loads_a, sources_a) = self.house_currents.wanted();
        let max_charge_v = self.house_charger.limit_v(temperature_c);
        let request =
            Request { current_a: loads_a + sources_a, floor_a: loads_a, max_charge_v, min_discharge_v: HOUSE_CUT_V };
        let net_a = self.house.step(dt_s, request, self.sky.air_c() + LOCKER_WARMER_C);
        self.house_currents.settle(net_a);
        self.house_charger.step(dt_s, self.house.voltage_v(), net_a, temperature_c);
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
        [truth("drive", &self.drive), truth("house", &self.house)]
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
        if DEVICES[device_index].bank == "drive" {
            values.extend([self.drive.voltage_v(), self.drive.current_a(), self.drive.temperature_c()]);
            values.extend(self.drive.monobloc_voltages_v());
        } else {
            values.extend([self.house.voltage_v(), self.house.current_a(), self.house.temperature_c()]);
        }
        self.shunts[device_index].report(values);
    }

    /// True currents of every branch.
    pub fn branches(&self) -> impl Iterator<Item = Branch> + '_ {
        let of = |bank: &'static str, names: &'static [&'static str], currents: &'_ Currents| {
            let currents = currents.0.clone();
            names.iter().zip(currents).map(move |(name, current_a)| Branch { bank, name, current_a })
        };
        of("drive", &branch::DRIVE, &self.drive_currents).chain(of("house", &branch::HOUSE, &self.house_currents))
    }
}

fn truth<M: battery::Monobloc>(name: &'static str, bank: &Bank<M>) -> BankTruth {
    BankTruth {
        name,
        soc: bank.true_soc(),
        capacity_ah: bank.true_capacity_ah(),
        current_a: bank.current_a(),
        voltage_v: bank.voltage_v(),
        temperature_c: bank.temperature_c(),
        monobloc_v: bank.monobloc_voltages_v().collect(),
    }
}
