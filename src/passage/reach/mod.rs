//! Energy a nautical mile against speed, and how far the charge above the reserve reaches.
//!
//! Each minute under drive with a speed over ground says once what a mile took: wind, sea, stream and hull are in it. So the spread
//! of many such minutes at a speed is what a skipper has to reckon with, and the range given holds 95 % of them.

mod left;

pub use left::{Held, MilesLeft, miles_left};

use serde::{Deserialize, Serialize};

use super::circuits::through;
use super::rules::Rules;
use super::sketch::Sketch;
use crate::battery::{Purpose, Role};
use crate::health::Aboard;
use crate::quantity::{Band, Minute};

/// Width of a bin of speed, knots.
const BIN_KN: f64 = 0.5;
/// Bins: up to 30 knots; faster is no boat with this drive (assumed).
const BINS: usize = 60;
/// A bin says something from so many minutes on: a quarter of an hour (assumed).
const LEAST_MINUTES: u32 = 15;

/// Watches what miles take. Its state stays small: at most 60 bins, of which one takes 11 kB at the very most.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Miles {
    bins: Vec<Bin>,
}

/// Minutes at about one speed.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
struct Bin {
    minutes: u32,
    /// Sum of the speeds, knots.
    speed_kn: f64,
    /// Sum of the voltages, V.
    voltage_v: f64,
    /// Energy a nautical mile, Wh, by the minute.
    energy: Sketch,
}

/// What miles took at about one speed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SpeedBin {
    /// Lower edge of the speeds, knots.
    pub from_kn: f64,
    /// Upper edge, not part of it.
    pub to_kn: f64,
    /// Mean speed of the minutes, knots.
    pub speed_kn: f64,
    /// Mean voltage of the bank in them, V.
    pub voltage_v: f64,
    /// Median of the energy that the drive took a nautical mile, Wh.
    pub wh_per_nm: f64,
    /// What 95 % of the minutes lie in, Wh.
    pub spread_wh_per_nm: Band,
    /// How many minutes it rests on.
    pub minutes: u32,
}

impl Miles {
    /// Takes the next minute; those without speed or without drive load say nothing. The drive's charge counts as it left the
    /// bank, whatever put it in meanwhile.
    pub fn minute(&mut self, aboard: &Aboard<'_>, rules: &Rules, minute: &Minute) {
        let drive_a = through(aboard, minute, |branch| branch.purpose == Purpose::Drive && branch.role == Role::Load);
        let (Some(drive_a), Some(speed_kn), Some(voltage)) = (drive_a, minute.speed_kn, minute.voltage_v) else {
            return;
        };
        // Slower than this a mile takes hours, and the position's own wandering is part of the speed.
        if drive_a > -rules.drive_load_a || speed_kn < rules.under_way_kn.min(1.0) {
            return;
        }
        let Some(place) = (0..BINS).find(|&place| speed_kn < edge_kn(place + 1)) else { return };
        if self.bins.len() <= place {
            self.bins.resize_with(place + 1, Bin::default);
        }
        let bin = &mut self.bins[place];
        bin.minutes = bin.minutes.saturating_add(1);
        bin.speed_kn += speed_kn;
        bin.voltage_v += voltage.mean;
        bin.energy.add(-drive_a * voltage.mean / speed_kn, 1.0);
    }

    /// What miles took, by speed, slowest first; speeds that were hardly ever run are left out.
    #[must_use]
    pub fn by_speed(&self) -> Vec<SpeedBin> {
        let told = self.bins.iter().enumerate().filter(|(_, bin)| bin.minutes >= LEAST_MINUTES);
        told.filter_map(|(place, bin)| {
            let minutes = f64::from(bin.minutes);
            Some(SpeedBin {
                from_kn: edge_kn(place),
                to_kn: edge_kn(place + 1),
                speed_kn: bin.speed_kn / minutes,
                voltage_v: bin.voltage_v / minutes,
                wh_per_nm: bin.energy.quantile(0.5)?,
                spread_wh_per_nm: Band { low: bin.energy.quantile(0.025)?, high: bin.energy.quantile(0.975)? },
                minutes: bin.minutes,
            })
        })
        .collect()
    }
}

/// Lower edge of a bin, knots.
#[expect(clippy::cast_precision_loss, reason = "at most 60")]
fn edge_kn(place: usize) -> f64 {
    place as f64 * BIN_KN
}

#[cfg(test)]
mod tests;
