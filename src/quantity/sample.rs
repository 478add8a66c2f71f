//! Samples as devices report them, and readings as the reckoning takes them.

use super::moment::Moment;

/// All channels of a device at one instant.
#[derive(Debug, Clone, PartialEq)]
pub struct Sample {
    /// When it arrived, on the monotonic clock.
    pub at: Moment,
    /// One value per channel, in the order of the device's channel list; `None` where nothing was reported.
    /// Values are finite.
    pub values: Vec<Option<f64>>,
}

/// What the reckoning takes at one instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Seconds on a clock that never steps; only differences count.
    pub t_s: f64,
    /// Terminal voltage of the bank.
    pub voltage_v: f64,
    /// Current, positive charges.
    pub current_a: f64,
    /// Temperature of the bank, if a sensor reports it.
    pub temperature_c: Option<f64>,
}
