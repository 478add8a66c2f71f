//! The line of the state of charge through a passage: its ends, its lowest point, deep excursions, time below the reserve.

use super::interval_s;
use crate::quantity::{BandedSoc, Moment};

/// Points of a line further apart than this say nothing about the time between them, ms; the track has one a minute.
const GAP_MS: i64 = 15 * 60_000;

/// What is kept of the line.
#[derive(Debug, Clone, Copy)]
pub struct ChargeLine {
    reserve: f64,
    pub first: Option<BandedSoc>,
    pub last: Option<(Moment, BandedSoc)>,
    pub lowest: Option<(Moment, BandedSoc)>,
    pub below_reserve_s: f64,
    pub deep: Deep,
}

impl ChargeLine {
    pub fn new(reserve: f64) -> ChargeLine {
        ChargeLine { reserve, first: None, last: None, lowest: None, below_reserve_s: 0.0, deep: Deep::default() }
    }

    /// Takes the next point. The time between two points belongs to the later one.
    pub fn take(&mut self, at: Moment, soc: BandedSoc) {
        if !(soc.soc.is_finite() && soc.band.low.is_finite() && soc.band.high.is_finite()) {
            return;
        }
        self.first.get_or_insert(soc);
        if self.lowest.is_none_or(|(_, lowest)| soc.soc < lowest.soc) {
            self.lowest = Some((at, soc));
        }
        let before = self.last.replace((at, soc));
        if soc.soc < self.reserve {
            self.below_reserve_s += before.and_then(|(before, _)| interval_s(before, at, GAP_MS)).unwrap_or(0.0);
        }
        self.deep.take(soc.soc);
    }
}

/// Below this the charge is deep.
const HALF: f64 = 0.5;
/// A rise, or a fall, of less than this is no turn.
const TURN: f64 = 0.1;

/// Counts deep excursions as rainflow counting would see them with small swings left out: turning points are where the
/// charge turns by at least a tenth, and each low one below half is an excursion. The first point and the last one
/// are turning points too, so a passage that ends in the depth has one without coming up again.
#[derive(Debug, Clone, Copy, Default)]
pub struct Deep {
    pub count: u32,
    /// The last extreme and which way the line goes from there.
    way: Option<Way>,
}

#[derive(Debug, Clone, Copy)]
enum Way {
    /// Falling, or not turned up by enough yet; lowest so far, and whether it has been counted.
    Down { lowest: f64, counted: bool },
    /// Rising, or not turned down by enough yet; highest so far.
    Up { highest: f64 },
}

impl Deep {
    fn take(&mut self, soc: f64) {
        let way = match self.way {
            None => Way::Down { lowest: soc, counted: false },
            Some(Way::Down { lowest, .. }) if soc >= lowest + TURN => Way::Up { highest: soc },
            Some(Way::Down { lowest, counted }) => Way::Down { lowest: lowest.min(soc), counted },
            Some(Way::Up { highest }) if soc <= highest - TURN => Way::Down { lowest: soc, counted: false },
            Some(Way::Up { highest }) => Way::Up { highest: highest.max(soc) },
        };
        self.way = Some(match way {
            Way::Down { lowest, counted: false } if lowest < HALF => {
                self.count += 1;
                Way::Down { lowest, counted: true }
            }
            way => way,
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{Band, BootNo, MonoMs};

    fn excursions(line: &[f64]) -> u32 {
        let mut deep = Deep::default();
        line.iter().for_each(|&soc| deep.take(soc));
        deep.count
    }

    #[test]
    fn each_low_turning_point_below_half_is_one_deep_excursion() {
        assert_eq!(excursions(&[1.0, 0.6, 0.51, 0.9]), 0);
        assert_eq!(excursions(&[1.0, 0.45, 0.52, 0.44, 0.53]), 1, "ripples do not count");
        assert_eq!(excursions(&[1.0, 0.4, 0.55, 0.52, 0.41, 0.9]), 2);
        assert_eq!(excursions(&[0.9, 0.3]), 1, "it need not come up again within the passage");
        assert_eq!(excursions(&[0.3, 0.5, 0.9]), 1, "one that begins in the depth was there");
        assert_eq!(excursions(&[0.45, 0.2, 0.31, 0.2]), 2, "turns below half are turns");
        // The series of CHECKS 4.11, of which rainflow finds the low points 70, 40, 55, 50: one is below half.
        assert_eq!(excursions(&[1.0, 0.70, 0.85, 0.40, 0.60, 0.55, 0.95, 0.50, 1.0]), 1);
    }

    #[test]
    fn time_below_the_reserve_is_that_of_the_points_below_it_and_no_gap() {
        let mut line = ChargeLine::new(0.3);
        for (minute, soc) in [(0, 0.4), (1, 0.29), (2, 0.28), (3, 0.32), (60, 0.25), (61, 0.24)] {
            let at = Moment { boot: BootNo(1), mono: MonoMs(minute * 60_000) };
            line.take(at, BandedSoc { soc, band: Band { low: soc - 0.02, high: soc + 0.02 } });
        }
        assert!((line.below_reserve_s - 180.0).abs() < 1e-9, "{}", line.below_reserve_s);
        assert!((line.lowest.expect("points").1.soc - 0.24).abs() < 1e-12);
    }
}
