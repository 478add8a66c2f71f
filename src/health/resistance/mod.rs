//! Resistance from load steps: how far the voltage moves when the current does, within a second and within a minute.
//!
//! A step counts where the current moves by more than a twentieth of the capacity per hour, stood still before it, stands
//! still after it, and charges the bank at neither end: a charger that holds the voltage hides the resistance. Within a
//! second there are metal, contacts and acid. Within a minute comes what builds up in the electrodes, and what the charge
//! drawn meanwhile takes off the rest voltage: a fixed part for each ampere, left in.
//!
//! Steps are brought to 25 °C by the preset's law, and taken in the upper half of charge only: below, dilution (lead) and
//! the knee (lithium) raise the resistance in a way that no preset knows. A lithium bank's last twentieth is left out too.

mod day;
mod hold;
mod rise;
mod steps;
mod trace;

pub use steps::Steps;

#[cfg(test)]
mod tests;

/// Smallest step, A per Ah of rated capacity (assumed; the voltage then moves by 5 mV a cell and more).
const STEP_RATE: f64 = 0.05;
/// How far the current may wander before and after a step, in parts of the step (assumed).
const WANDER: f64 = 0.1;
/// Longest time from the last reading before a step to the one that shows its end, for a step within a second, ms: two
/// intervals of a second and a tolerance. One reading may fall into the edge.
const SECOND_MS: i64 = 2_500;
/// Readings further apart than this show no step at all, ms.
const APART_MS: i64 = 15_000;
/// When the voltage is read for a step within a minute, ms after it.
const MINUTE_FROM_MS: i64 = 50_000;
/// See above.
const MINUTE_TO_MS: i64 = 70_000;
/// How long the current must have stood still before a step within a minute, ms: the voltage still moves after the step
/// before (assumed).
const SETTLED_MS: i64 = 180_000;
