//! What tests of the watches share: a bank, minutes, and random numbers that are the same each time.

use crate::battery::{Bank, Branch, BranchChannel, Chemistry, Purpose, Role, SensorError};
use crate::quantity::{Band, BandedSoc, BootNo, Extreme, Minute, Moment, MonoMs, Spread};

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
    let steady = |value: f64| {
        let extreme = Extreme { value, at: at.mono };
        Some(Spread { mean: value, min: extreme, max: extreme })
    };
    let moved_ah = current_a.abs() / 60.0;
    let (charge_in_ah, charge_out_ah) = if current_a > 0.0 { (moved_ah, 0.0) } else { (0.0, moved_ah) };
    Minute {
        at,
        unseen_s: if n == 0 { None } else { Some(0.0) },
        covered_s: 60.0,
        voltage_v: steady(voltage_v),
        current_a: steady(current_a),
        power_w: steady(current_a * voltage_v),
        temperature_c: Some(25.0),
        charge_in_ah,
        charge_out_ah,
        energy_in_wh: charge_in_ah * voltage_v,
        energy_out_wh: charge_out_ah * voltage_v,
        monobloc_v: Vec::new(),
        branch_a: Vec::new(),
        speed_kn: None,
        balancing: None,
        soc: None,
    }
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
