//! Cycles of charge: rainflow counting sample by sample, equivalent full cycles, and how deep they went.

mod rainflow;
mod summary;

pub use rainflow::{Rainflow, Swing, Turn};
pub use summary::{Depths, equivalent_full_cycles};
