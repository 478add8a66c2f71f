//! Cycles of the state of charge by their depth.

use super::stored::Dated;
use super::use_views::CyclesView;
use crate::battery::Bank;
use crate::health::cycles::{Depths, equivalent_full_cycles};
use crate::health::{Cycle, UseDay};

/// Counts cycles, and what was moved in all.
pub(super) fn cycles_view(bank: &Bank, cycles: &[Dated<Cycle>], days: &[Dated<UseDay>]) -> CyclesView {
    let moved = |of: fn(&UseDay) -> f64| days.iter().map(|day| of(&day.it)).sum();
    let mut depths = Depths::default();
    depths.add(cycles.iter().map(|cycle| (cycle.it.range, cycle.it.count)));
    CyclesView {
        equivalent_full: equivalent_full_cycles(
            moved(|day| day.charge_in_ah),
            moved(|day| day.charge_out_ah),
            bank.rated_capacity_ah,
        ),
        counted: depths.total(),
        by_depth: depths.counts,
    }
}
