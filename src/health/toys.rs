//! What tests of the watches share: a bank, minutes, and random numbers that are the same each time.

#[path = "../../tests/minutes.rs"]
mod minutes;

pub use minutes::{powered, steady, still};

use super::record::FixMark;
use crate::battery::{Bank, Branch, BranchChannel, Chemistry, Purpose, Role, SensorError};
use crate::quantity::{Band, BandedSoc, BootNo, Minute, Moment, MonoMs};
use crate::reckoning::FixKind;

/// A 48 V drive bank of four monoblocs.
pub fn drive_bank(chemistry: Chemistry) -> Bank {
    let cells = if chemistry.preset().nominal_cell_v > 3.0 { 16 } else { 24 };
    let mut bank = Bank::new("drive", chemistry, cells, 120.0, 20.0).expect("possible");
    bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
    bank
}

/// A measured load, or the computed remainder.
pub fn load(name: &str, measured: bool) -> Branch {
    Branch {
        name: name.to_owned(),
        title: name.to_owned(),
        bank: "drive".to_owned(),
        role: Role::Load,
        purpose: Purpose::Other,
        channel: measured.then(|| BranchChannel {
            device: "branches".to_owned(),
            channel: format!("{name}_a"),
            reversed: false,
        }),
        sensor: SensorError { gain: 0.005, offset_a: 0.05 },
    }
}

/// Minute number `n` of the first boot, at a steady current and voltage.
pub fn minute(n: i64, current_a: f64, voltage_v: f64) -> Minute {
    let at = Moment { boot: BootNo(1), mono: MonoMs(n * 60_000) };
    let unseen_s = (n != 0).then_some(0.0);
    Minute { unseen_s, temperature_c: Some(25.0), ..powered(at, current_a, voltage_v) }
}

/// A state of charge known to 1 %.
pub fn soc(soc: f64) -> Option<BandedSoc> {
    Some(BandedSoc { soc, band: Band { low: soc - 0.0196, high: soc + 0.0196 } })
}

/// Random numbers: SplitMix64 (Steele, Lea & Flood, OOPSLA 2014).
pub struct Chance(pub u64);

impl Chance {
    /// Evenly between 0 and 1.
    pub fn even(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Of a normal distribution with 1 σ = 1 (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.even()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// A summer's life of a bank in a harbour: a house that never sleeps, a refrigerator, an hour under motor each noon, shore
/// power each second night. What sensors say of it has their errors.
pub struct Season {
    /// What the bank's sensor reads at zero, A, and what a branch's does: motor, shore, house.
    pub offset_a: f64,
    pub branch_offsets_a: [f64; 3],
    /// Gain errors of the branches, ratio.
    pub branch_gains: [f64; 3],
    /// A load on no branch, A (≥ 0).
    pub hidden_a: f64,
    /// Charge that stays of what goes in.
    pub efficiency: f64,
    /// What the house always draws, A (≥ 0).
    pub house_a: f64,
    chance: Chance,
    held_ah: f64,
    full: bool,
    n: i64,
}

impl Season {
    /// A bank that is full, without errors.
    pub fn new(seed: u64) -> Season {
        Season {
            offset_a: 0.0,
            branch_offsets_a: [0.0; 3],
            branch_gains: [0.0; 3],
            hidden_a: 0.0,
            efficiency: 0.95,
            house_a: 0.6,
            chance: Chance(seed),
            held_ah: 120.0,
            full: false,
            n: 0,
        }
    }

    /// Its branches.
    pub fn branches() -> Vec<Branch> {
        let mut shore = load("shore", true);
        shore.role = Role::Source;
        vec![load("motor", true), shore, load("house", true)]
    }

    /// The next minute, and whether the bank is full by its end for the first time since it was let go.
    pub fn next(&mut self) -> (Minute, bool) {
        let (day, hour, part) = (self.n / 1440, (self.n / 60) % 24, self.n % 60);
        let motor = if hour == 12 { -20.0 * (1.0 + 0.1 * self.chance.normal()) } else { 0.0 };
        let cold = if part < 20 { -2.5 } else { 0.0 };
        let house = -self.house_a + cold;
        let plugged = if hour >= 17 { day % 2 == 0 } else { hour < 8 && day % 2 == 1 };
        let lacks = (1.0 - self.held_ah / 120.0).max(0.0);
        let into_bank = (25.0 * (lacks / 0.1).min(1.0)).max(0.8);
        let shore = if plugged { into_bank - house + self.hidden_a } else { 0.0 };
        let current = motor + shore + house - self.hidden_a;
        self.held_ah = (self.held_ah + current / 60.0 * if current > 0.0 { self.efficiency } else { 1.0 }).min(120.0);
        let was_full = self.full;
        self.full = plugged && (was_full || into_bank < 3.0);
        let read = current + self.offset_a + 0.01 * self.chance.normal();
        let volts = if plugged { 56.6 } else { 51.0 };
        let mut minute = minute(self.n, read, volts);
        let true_branches = [motor, shore, house];
        minute.branch_a =
            (0..3).map(|b| Some(true_branches[b] * (1.0 + self.branch_gains[b]) + self.branch_offsets_a[b])).collect();
        minute.soc = soc((self.held_ah / 120.0).clamp(0.0, 1.0));
        self.n += 1;
        (minute, self.full && !was_full)
    }
}

/// A full fix at the end of a minute.
pub fn full_fix(minute: &Minute) -> FixMark {
    let after = soc(1.0).expect("known");
    FixMark { at: minute.end(), kind: FixKind::Full, before: minute.soc, after }
}
