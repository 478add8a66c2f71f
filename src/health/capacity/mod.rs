//! Capacity from ordinary use, and what all measurements of it tell together.
//!
//! # What is measured
//! State of charge and capacity are on one scale: the rated hours and 25 °C. A charge that is counted between two ends on
//! that scale, over the fall of the state of charge between them, is the capacity there; no law of rate or temperature goes
//! into it. Ends of that kind are *full*, by the full rule, and a *rest*, by the rest voltage against the chemistry's curve.
//! The rest voltage is read anew, from the last half hour of the rest. The reckoning's own state after a rest fix is of no
//! use here: it rests on the very count that is to be judged.
//!
//! The *cut-off* is another kind of end. A discharge from full to the cut-off gives the capacity at that load and
//! temperature (`raw_ah`) as it is. The state of charge is not 0 there: the rest is out of reach at that load. By what part of the
//! capacity on the common scale came out, the rate curve and the temperature law say, and the finding names both.
//!
//! # How sure
//! Each finding carries the doubt of both ends; the sensor's offset times the time; its gain times the charge; charging
//! losses of what came in on the way; and the worst that may have moved while nobody watched. Much of that is the same in
//! every finding of a bank, and the combined estimate keeps it apart.

mod combine;
mod evidence;
mod findings;
mod leg;
mod measured;
mod onward;
mod rest;
mod total_least_squares;

pub use findings::{CapacityNow, Findings};
pub use measured::{Measured, TEST_REPEATS, ToCutOff};
pub use onward::Onward;
pub use total_least_squares::TotalLeastSquares;
