//! What use and heat take off a bank's life, by rules of thumb: cycles by their depth, years by their temperature, and for
//! lead the time that it was left partly charged. It stands beside the measured fade and gives way to it once that is earned.

mod calendar;
mod cycle_life;
mod outlook;
mod partial;
mod throughput;

pub use calendar::{CalendarLife, HalvingRule};
pub use cycle_life::{CycleLife, CycleLifeError};
pub use outlook::{Believed, CycleLaw, Endured, Rules, StressLife, stress_life};
pub use partial::{PartialCharge, partial_charge};
pub use throughput::{lithium_iron_loss, lithium_iron_wear};
