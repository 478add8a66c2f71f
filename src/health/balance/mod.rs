//! Balance: each monobloc (or cell) against the mean of all, at rest, under load and at the end of charge; and how far the
//! capacity of one lies behind.
//!
//! Monoblocs in series carry the same charge. One with less capacity goes the same way down in fewer ampere-hours: after
//! `Q` its voltage is where the others' will be at `Q / (1 - s)`. So its deviation under load is `V'(Q) · Q · s / (1 - s)`,
//! with `V'` the fall of the voltage for each ampere-hour: nothing when full, growing with depth and most where the curve
//! bends down. A deviation that does not grow with depth (a sensor's error, a difference in acid) or that goes with the
//! current (a resistance) is none of it. See [`leg`].

mod day;
mod leg;
mod solve;
mod watch;
mod weak;

pub use watch::Balance;
pub use weak::{Weak, weakest};

#[cfg(test)]
mod tests;
