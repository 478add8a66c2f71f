//! Ageing: capacity fades and resistance grows with throughput, with calendar time and with warmth; advanced a little at every step.
//!
//! Fade from use is taken as linear in equivalent full cycles and fade from time as linear in years, doubling each 10 K
//! (a rule of thumb of the trade; common practice, no source). For lead, time spent low adds to it (sulphation).
//! Beside that there is a life whose age is laid down from outside, so that its truth is known beforehand.

use super::constants::{HOUR_S, REFERENCE_C};
use serde::{Deserialize, Serialize};

const YEAR_S: f64 = 365.25 * 24.0 * HOUR_S;

/// How fast a chemistry ages. All values assumed, chosen for plausible lives.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Wear {
    /// Part of the capacity lost by one equivalent full cycle.
    pub fade_per_cycle: f64,
    /// Part of the capacity lost in a year at 25 °C.
    pub fade_per_year: f64,
    /// Further part of the capacity lost in a year spent wholly discharged.
    pub fade_per_year_empty: f64,
    /// Growth of resistance for each part of capacity lost.
    pub resistance_per_fade: f64,
}

impl Wear {
    /// Lead-carbon: about 1500 cycles or 14 years to 80 %.
    pub fn lead_carbon() -> Self {
        Self { fade_per_cycle: 1.3e-4, fade_per_year: 0.012, fade_per_year_empty: 0.06, resistance_per_fade: 2.0 }
    }

    /// Lithium iron phosphate: about 4000 cycles or 20 years to 80 %.
    pub fn lithium_iron_phosphate() -> Self {
        Self { fade_per_cycle: 4e-5, fade_per_year: 0.010, fade_per_year_empty: 0.0, resistance_per_fade: 1.5 }
    }
}

/// By which law a bank ages.
#[derive(Clone, Debug, Serialize, Deserialize)]
enum Law {
    /// By use, time, warmth and low charge.
    Wear { wear: Wear, fade: f64 },
    /// As it is told: the two factors.
    Scripted { capacity: f64, resistance: f64 },
}

/// The age of a bank.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Ageing {
    law: Law,
    cycles: f64,
}

impl Ageing {
    /// A new bank that wears.
    pub fn new(wear: Wear) -> Self {
        Self { law: Law::Wear { wear, fade: 0.0 }, cycles: 0.0 }
    }

    /// A bank whose remaining part of its first capacity and whose resistance relative to new are told from outside.
    pub fn scripted(capacity_factor: f64, resistance_factor: f64) -> Self {
        Self { law: Law::Scripted { capacity: capacity_factor, resistance: resistance_factor }, cycles: 0.0 }
    }

    /// Tells a scripted bank its age; a bank that wears does not listen.
    pub fn tell(&mut self, capacity_factor: f64, resistance_factor: f64) {
        if let Law::Scripted { capacity, resistance } = &mut self.law {
            (*capacity, *resistance) = (capacity_factor, resistance_factor);
        }
    }

    /// Takes up `dt_s` of life: charge moved either way as a part of capacity, temperature and state of charge.
    pub fn step(&mut self, dt_s: f64, moved_ratio: f64, temperature_c: f64, soc: f64) {
        let cycles = moved_ratio.abs() / 2.0;
        self.cycles += cycles;
        if let Law::Wear { wear, fade } = &mut self.law {
            let years = dt_s / YEAR_S * ((temperature_c - REFERENCE_C) / 10.0).exp2();
            let low = (1.0 - soc).clamp(0.0, 1.0).powi(2);
            *fade += wear.fade_per_cycle * cycles + (wear.fade_per_year + wear.fade_per_year_empty * low) * years;
        }
    }

    /// Remaining part of the first capacity, 0..1; by wear never below 0.2, where the linear law no longer means anything.
    pub fn capacity_factor(&self) -> f64 {
        match &self.law {
            Law::Wear { fade, .. } => (1.0 - fade).max(0.2),
            Law::Scripted { capacity, .. } => *capacity,
        }
    }

    /// Resistance relative to new.
    pub fn resistance_factor(&self) -> f64 {
        match &self.law {
            Law::Wear { wear, fade } => 1.0 + wear.resistance_per_fade * fade,
            Law::Scripted { resistance, .. } => *resistance,
        }
    }

    /// Equivalent full cycles so far.
    pub fn cycles(&self) -> f64 {
        self.cycles
    }
}
