//! What the accuracy table must show: the project's own goals, by which its lines are marked.

/// Goals for the state of charge along a trace, ratios.
#[derive(Debug, Clone, Copy)]
pub struct Goal {
    pub rms: f64,
    pub greatest: f64,
    pub inside: f64,
    pub half_width: f64,
}

/// Passages, harbours and hard runs.
pub const TRACE: Goal = Goal { rms: 0.02, greatest: 0.06, inside: INSIDE, half_width: 0.05 };
/// Laboratory records of a cell, whose truth is good to 3 %: no goal for the greatest error and the width.
pub const CELL: Goal = Goal { rms: 0.03, greatest: f64::INFINITY, inside: INSIDE, half_width: f64::INFINITY };
/// Share of rows whose band must hold the truth, whatever happens.
pub const INSIDE: f64 = 0.95;
/// Greatest state of charge at the end of a complete discharge of the real unit.
pub const EMPTY: f64 = 0.06;
/// Least state of charge after a complete recharge of the real unit.
pub const FULL: f64 = 0.97;
/// Greatest error of the capacity of an aged bank after two full recharges, ratio.
pub const CAPACITY: f64 = 0.04;
/// Greatest error of endurance, ratio.
pub const ENDURANCE: f64 = 0.10;
/// Greatest error of the smoothed line, in parts of the live one's.
pub const SMOOTHED: f64 = 0.5;
/// Greatest step of the state of charge away from the truth between two rows, ratio (assumed: twice what one sample of
/// 200 A counts between rows 10 s apart on 120 Ah).
pub const JUMP: f64 = 0.01;

/// Where only the band has a goal.
pub const BAND: Goal = Goal { rms: f64::INFINITY, greatest: f64::INFINITY, inside: INSIDE, half_width: f64::INFINITY };
