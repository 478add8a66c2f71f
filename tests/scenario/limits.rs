//! The numeric limits of the scenario tests. They are the project's goals (`tests/support/trial/must.rs`); a limit of its
//! own says why.

use crate::support::trial::must::{self, Goal};

/// Passages: days at sea with hard runs between fixes.
pub const PASSAGE: Goal = must::TRACE;
/// Harbours: two weeks of shallow cycling, never full.
pub const HARBOUR: Goal = must::TRACE;
/// Hard runs to the cut-off, a rest, and on to empty.
pub const HARD_RUN: Goal = must::TRACE;
/// The project's own scenarios.
pub const OWN: Goal = must::TRACE;
/// Laboratory records of a cell.
pub const CELL: Goal = must::CELL;
/// A fault may cost precision, never the band.
pub const DISTURBED: Goal = must::BAND;
/// An unknown start: the band holds from the first row.
pub const UNKNOWN: Goal = must::BAND;
/// With an unknown start, least width of the first band: nothing is known, and a voltage under load tells little.
pub const UNKNOWN_FIRST_WIDTH: f64 = 0.5;
/// After a restart without time off, greatest distance of the line from that of a reckoning that never stopped, ratio: the
/// estimates go on, only what was watched over minutes begins anew.
pub const RESTARTED: f64 = 0.001;
/// The same for the half-width of its band: evidence that was being gathered is gathered anew.
pub const RESTARTED_WIDER: f64 = 0.005;
/// After restarts with a minute off each, the same: a minute at half a rated capacity an hour is 0.8 %.
pub const RESTARTED_LATER: f64 = 0.01;
/// Least and greatest charge efficiency of the real unit: 0.90 to 0.96 in ordinary recharges, less with a long float.
pub const REAL_EFFICIENCY: (f64, f64) = (0.80, 1.0);
/// Capacity of the real unit, Ah, from its last complete discharges.
pub const REAL_CAPACITY_AH: (f64, f64) = (18.3, 18.97);
/// Greatest half-width of the band of the capacity after two full recharges, ratio: twice the goal for its error; a wider
/// one would tell too little.
pub const CAPACITY_HALF_WIDTH: f64 = 0.08;
