//! Banks whose inner state is concentration, not a circuit: acid diffusing in lead plates, lithium diffusing in particles.

mod ageing;
mod bank;
mod chain;
mod constants;
mod lead;
mod lithium;
mod presets;
mod thermal;

#[cfg(test)]
mod tests;

pub use ageing::{Ageing, Wear};
pub use bank::{Bank, BankSpec, Request};
pub use lead::LeadBlock;
pub use lithium::LithiumCell;
pub use presets::{aged_drive_bank, drive_bank, house_bank};
pub use thermal::ThermalMass;

/// What shows at a monobloc's terminals at the end of a step.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Terminal {
    /// Voltage, V.
    pub voltage_v: f64,
    /// Change of voltage for one ampere more held over the step, ohm; positive.
    pub slope_ohm: f64,
}

/// One case in a string: a step is `prepare`, any number of `probe`, then `commit` of the last current probed.
pub trait Monobloc: Clone {
    /// Works out the step without current: everything that the terminal voltage at its end is reckoned from.
    fn prepare(&mut self, dt_s: f64, temperature_c: f64, ageing: &Ageing);

    /// The terminals at the end of the step when `current_a` (positive charges) flows through it.
    fn probe(&mut self, current_a: f64) -> Terminal;

    /// Ends the step at the current last probed; returns the heat set free, W.
    fn commit(&mut self, dt_s: f64) -> f64;

    /// Charge that is missing from full, Ah.
    fn discharged_ah(&self) -> f64;

    /// Charge that has gone through side reactions (gas, leakage, balancing) since new, Ah; it never became charge held.
    fn side_ah(&self) -> f64;

    /// Voltage at the end of the last step, V.
    fn voltage_v(&self) -> f64;

    /// Makes it full and rested.
    fn fill(&mut self);
}
