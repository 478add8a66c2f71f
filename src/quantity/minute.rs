//! What the devices of a bank said in one minute: the grain of everything that looks back over passages and years.

use serde::{Deserialize, Serialize};

use super::band::BandedSoc;
use super::moment::{Moment, MonoMs};

/// Length of a [`Minute`], ms.
pub const MINUTE_MS: i64 = 60_000;

/// A value and when it was read.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Extreme {
    /// The value.
    pub value: f64,
    /// When, within the boot.
    pub at: MonoMs,
}

/// Mean and extremes of a channel over a minute.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Spread {
    /// Mean, weighted by time.
    pub mean: f64,
    /// The lowest reading.
    pub min: Extreme,
    /// The highest reading.
    pub max: Extreme,
}

/// One minute of a bank. Nothing in it reaches over a gap: where samples are missing, `covered_s` is less than 60 s. A minute
/// without any sample of the main device does not exist.
#[derive(Debug, Clone, PartialEq)]
pub struct Minute {
    /// Its beginning: a whole minute of the boot.
    pub at: Moment,
    /// Seconds between the minute before and this one that nobody saw: 0 where this one follows, or where its first interval
    /// reaches back to the minute before; `None` where it is not known, as between two boots of which one cannot be placed
    /// in time, and in the first minute of all.
    pub unseen_s: Option<f64>,
    /// Seconds that the main device's samples cover. The interval between two samples belongs to the later one, so this may
    /// be a little more than 60, and is more where samples are rarer than one a minute.
    pub covered_s: f64,
    /// Bank voltage, V.
    pub voltage_v: Option<Spread>,
    /// Current of the bank, A; positive charges.
    pub current_a: Option<Spread>,
    /// Power of the bank, W; positive charges.
    pub power_w: Option<Spread>,
    /// Mean temperature of the bank, °C.
    pub temperature_c: Option<f64>,
    /// Charge put in, Ah (≥ 0).
    pub charge_in_ah: f64,
    /// Charge taken out, Ah (≥ 0).
    pub charge_out_ah: f64,
    /// Energy put in, Wh (≥ 0).
    pub energy_in_wh: f64,
    /// Energy taken out, Wh (≥ 0).
    pub energy_out_wh: f64,
    /// Voltage of each monobloc or cell that is measured by itself, V, in the order of their numbers.
    pub monobloc_v: Vec<Option<Spread>>,
    /// Mean current of each branch with a channel of its own, A; positive charges the bank. In the order of the
    /// configuration; a computed branch is not among them.
    pub branch_a: Vec<Option<f64>>,
    /// Mean speed over ground, knots, where a channel has it.
    pub speed_kn: Option<f64>,
    /// Part of the minute that the contact of a balancer was closed, where a channel has it.
    pub balancing: Option<f64>,
    /// State of charge as reckoned at the time, where it is known.
    pub soc: Option<BandedSoc>,
}

impl Minute {
    /// Its end, not part of it.
    #[must_use]
    pub fn end(&self) -> Moment {
        Moment { boot: self.at.boot, mono: self.at.mono + MINUTE_MS }
    }

    /// True if this minute comes right after `earlier`, in the same boot.
    #[must_use]
    pub fn follows(&self, earlier: &Minute) -> bool {
        self.at == earlier.end()
    }
}
