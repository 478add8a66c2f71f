//! All findings of a bank together: one estimate of its capacity, and of how fast it fades.
//!
//! Findings share their errors. A rest-voltage curve that is wrong at half charge is wrong there in every finding that ends
//! there; a sensor's offset and a rate curve's slope go into all of them. Averaging takes none of that away. So these are
//! quantities of a Kalman filter beside the capacity, and findings of different kinds find them out: a discharge to the
//! cut-off shows what the curve says too much, and from then on each rest tells more.
//!
//! State: the logarithm of capacity over rating; its change in a year, which drifts, so that a knee is followed; the sensor's
//! offset; the rate curve's slope; the losses of charging; the curve's knee and its error at nine states of charge; and what
//! rests go wrong by as the bank ages. The sensor's gain cannot be told from the capacity by any charge that it counts: it is
//! added to the doubt at the end.

use serde::{Deserialize, Serialize};

use super::evidence::{Evidence, OnCurve, RestEnd};
use super::onward::{FADE_DRIFT, LEVEL_DRIFT, Onward, YEAR_S};
use crate::battery::{Bank, Family};
use crate::quantity::Estimate;
use crate::reckoning::gaussian::{Gaussian, Part, Saved};

/// Knots of the curve's error, even from empty to full.
const KNOTS: usize = 9;
mod at {
    /// ln of capacity over rated capacity.
    pub const LEVEL: usize = 0;
    /// Its change in a year.
    pub const FADE: usize = 1;
    /// What the sensor reads at zero, A per Ah of rated capacity.
    pub const OFFSET: usize = 2;
    /// Error of the rate curve's slope, in its own standard deviations.
    pub const RATE: usize = 3;
    /// Shift of the knee at the empty end, ratio.
    pub const KNEE: usize = 4;
    /// ln of the capacity that rests tell over the capacity: 0 when new. The voltage of lead at rest follows the acid, and
    /// plates that wear out leave the acid what it was.
    pub const AGED: usize = 5;
    /// The part of the fade that rests do not show.
    pub const UNSHOWN: usize = 6;
    /// By how much more of a charge stays than the preset says, short of full, ratio.
    pub const STAYS: usize = 7;
    /// The same of a charge to full.
    pub const TOPPED: usize = 8;
    /// First knot of the curve's error, V a cell.
    pub const CURVE: usize = 9;
}
const N: usize = at::CURVE + KNOTS;

/// 1 σ of a new bank's capacity against its rating, ratio (assumed, as the counter does: banks leave the works within 10 %).
const RATING_STD_DEV: f64 = 0.05;
/// Fade of a bank of which nothing is known, ln a year, and its 1 σ (assumed: 80 % after eight to twelve years).
const FADE: (f64, f64) = (-0.02, 0.015);
/// How long a sensor's offset stays what it is, s (assumed: two months; what longer ways tell it by are had in less, and a sensor
/// that is knocked or mended is soon believed).
const OFFSET_STAYS_S: f64 = 60.0 * 86_400.0;
/// What part of the fade rests do not show and its 1 σ, for lead and lithium (assumed: lead loses plate, which rests do not
/// show, and acid or water, which they do; lithium's curve belongs to its plates).
const UNSHOWN_LEAD: (f64, f64) = (0.5, 0.35);
const UNSHOWN_LITHIUM: (f64, f64) = (0.0, 0.15);
/// How far what rests tell strays beside that in a year, ln, for lead and lithium (assumed).
const AGED_DRIFT: (f64, f64) = (0.05, 0.008);
/// How far the curve strays in a year, V a cell, all of it alike and its empty end against its full end (assumed).
const CURVE_DRIFT_V: (f64, f64) = (0.001, 0.001);
/// Degrees of freedom of Student's t that weighs surprises (K. L. Lange, R. J. A. Little, J. M. G. Taylor, J. Am. Stat.
/// Assoc. 84 (1989) 881: four serve where nothing better is known).
const TAILS: f64 = 4.0;
/// A finding this many σ away is not believed (it weighs a quarter of what it says of itself).
const UNBELIEVABLE: f64 = 4.0;
/// So many unbelievable findings of a kind in a row, all on one side, and it is the past that is not believed.
const OUTVOTED: i32 = 3;

/// What the filter makes of a finding.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Taken {
    /// False where it disagrees so much with the others that it was given next to no weight.
    pub believed: bool,
    /// The capacity over the rating that it tells by itself, when what the findings before it tell of their shared errors is taken off. The
    /// error of the sensor's gain, alike in all, is not in it.
    pub corrected: Estimate,
}

/// The estimate of all findings together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Combined {
    #[serde(with = "saved")]
    state: Gaussian<N>,
    /// When the state was last moved, s of the bank's own time.
    at_s: f64,
    /// Findings taken.
    taken: u32,
    /// Unbelievable ones in a row, those to a cut-off and those to a rest; negative: below what was expected.
    doubted: [i32; 2],
}

impl Combined {
    /// What is known before a finding: the rating, at a time of the bank's own clock.
    #[must_use]
    pub fn new(bank: &Bank, at_s: f64) -> Combined {
        let mut mean = [0.0; N];
        mean[at::FADE] = FADE.0;
        let mut std_dev = [0.0; N];
        std_dev[at::LEVEL] = RATING_STD_DEV;
        std_dev[at::FADE] = FADE.1;
        std_dev[at::OFFSET] = bank.sensor.offset_a / bank.rated_capacity_ah;
        std_dev[at::RATE] = 1.0;
        std_dev[at::STAYS] = bank.preset().efficiency_std_dev;
        std_dev[at::TOPPED] = bank.preset().efficiency_std_dev;
        (mean[at::UNSHOWN], std_dev[at::UNSHOWN]) = match bank.chemistry.family() {
            Family::Lead => UNSHOWN_LEAD,
            Family::Lithium => UNSHOWN_LITHIUM,
        };
        std_dev[at::KNEE] = bank.preset().voltage.shape.knee;
        let mut state = Gaussian::independent(mean, std_dev);
        for i in 0..KNOTS {
            for j in 0..KNOTS {
                let own = if i == j { 1e-8 } else { 0.0 };
                state.covariance[at::CURVE + i][at::CURVE + j] =
                    bank.preset().voltage.shape.covariance(knot_soc(i), knot_soc(j)) + own;
            }
        }
        Combined { state, at_s, taken: 0, doubted: [0; 2] }
    }

    /// Takes a finding at a time of the bank's own clock, s.
    pub fn take(&mut self, bank: &Bank, at_s: f64, evidence: &Evidence) -> Taken {
        self.pass(bank, at_s);
        let mut capacity = self.state.mean[at::LEVEL].exp();
        let of_rests = !evidence.rests.is_empty();
        if of_rests {
            capacity *= self.state.mean[at::AGED].exp();
        }
        let hours = evidence.offset_h / capacity;
        let counted = evidence.drawn / capacity;
        let (charged, topped) = (evidence.charged / capacity, evidence.topped / capacity);
        let drawn = counted + self.state.mean[at::OFFSET] * hours - self.state.mean[at::STAYS] * charged
            + self.state.mean[at::TOPPED] * topped;
        // How a fall answers to the capacity goes by the true fall. Taken from what carries the finding's own error, it would
        // move with that error, and every finding would push the capacity the same way (the bias that total least squares
        // is there for): the fall is read with error at a rest, the charge varies at a cut-off.
        let true_fall = if of_rests { drawn } else { evidence.fall };
        let mut row: Vec<Part> = vec![
            (at::LEVEL, -true_fall),
            (at::OFFSET, hours),
            (at::RATE, -evidence.rate),
            (at::STAYS, -charged),
            (at::TOPPED, topped),
        ];
        if of_rests {
            row.push((at::AGED, -drawn));
        }
        let mut innovation = evidence.fall + evidence.rate * self.state.mean[at::RATE] - drawn;
        let mut noise = evidence.fall_variance + evidence.drawn_variance / (capacity * capacity);
        let read = |end: &RestEnd| {
            OnCurve::find(bank, end.cell_v, self.state.mean[at::KNEE], |soc| self.curve_error_v(soc).value)
        };
        let read: Vec<(&RestEnd, OnCurve)> = evidence.rests.iter().map(|end| (end, read(end))).collect();
        innovation += read.iter().map(|(end, on)| end.sign * on.soc).sum::<f64>();
        let apart = innovation / read.len().max(1) as f64;
        for (end, on) in read {
            noise += (end.noise_v / on.slope_v).powi(2);
            row.push((at::KNEE, end.sign * on.knee));
            // Where on the curve that was: by the charge again, for the same reason.
            let place = on.soc - end.sign * apart;
            row.extend(between_knots(place).map(|(knot, weight)| (at::CURVE + knot, weight * end.sign / on.slope_v)));
        }
        // By itself: whatever is known but the capacity.
        let fall = drawn + innovation;
        let value = self.state.mean[at::LEVEL].exp() * drawn / fall;
        let corrected =
            Estimate { value, std_dev: (value / fall * (self.state.variance_of(&row[1..]) + noise).sqrt()).abs() };
        let surprise = innovation / (self.state.variance_of(&row) + noise).sqrt();
        // A capacity below what was expected shows as a fall that is too great for the charge.
        let side = if innovation > 0.0 { -1 } else { 1 };
        let believed = surprise.abs() < UNBELIEVABLE;
        let doubted = &mut self.doubted[usize::from(of_rests)];
        *doubted = if believed { 0 } else { side + if doubted.signum() == side { *doubted } else { 0 } };
        if doubted.abs() >= OUTVOTED {
            *doubted = 0;
            // Rests cannot speak for the capacity alone; the cut-off is what a capacity is.
            let widened = if of_rests { at::AGED } else { at::LEVEL };
            self.state.covariance[widened][widened] += (innovation / drawn.max(0.1)).powi(2);
            self.update(&row, innovation, noise, 1.0);
            return Taken { believed: true, corrected };
        }
        let weight = (TAILS + 1.0) / (TAILS + surprise * surprise);
        self.update(&row, innovation, noise, weight.min(1.0));
        Taken { believed, corrected }
    }

    /// The sensor's offset may have changed by so much, A per Ah of rated capacity, or have stayed.
    pub fn offset_may_have_moved(&mut self, by: f64) {
        self.state.covariance[at::OFFSET][at::OFFSET] += by * by;
    }

    /// The capacity at a time of the bank's own clock that is not before the last finding, Ah at the rated hours and 25 °C;
    /// `None` before a finding.
    #[must_use]
    pub fn capacity(&self, bank: &Bank, at_s: f64) -> Option<Estimate> {
        if self.taken == 0 {
            return None;
        }
        let mut later = self.clone();
        later.pass(bank, at_s);
        let value = bank.rated_capacity_ah * later.state.mean[at::LEVEL].exp();
        Some(Estimate { value, std_dev: value * later.state.std_dev(at::LEVEL).hypot(bank.sensor.gain) })
    }

    /// How the capacity goes on from the last finding.
    #[must_use]
    pub fn onward(&self) -> Onward {
        let fade = Estimate { value: self.state.mean[at::FADE], std_dev: self.state.std_dev(at::FADE) };
        Onward { fade, with_capacity: self.state.covariance[at::LEVEL][at::FADE] }
    }

    /// Error of the bank's rest-voltage curve as it is known, V a cell, with its 1 σ.
    #[must_use]
    pub fn curve_error_v(&self, soc: f64) -> Estimate {
        let row = between_knots(soc).map(|(knot, weight)| (at::CURVE + knot, weight));
        let value = row.iter().map(|&(i, weight)| weight * self.state.mean[i]).sum();
        Estimate { value, std_dev: self.state.variance_of(&row).max(0.0).sqrt() }
    }

    fn update(&mut self, row: &[Part], innovation: f64, noise: f64, weight: f64) {
        // The whole surprise is made likelier, not the finding's own part of it alone: an outlier may lie in either.
        let spare = (self.state.variance_of(row) + noise) * (1.0 / weight - 1.0);
        self.state.update(row, innovation, noise + spare);
        self.taken += 1;
    }

    /// Time passes.
    fn pass(&mut self, bank: &Bank, at_s: f64) {
        let years = ((at_s - self.at_s) / YEAR_S).max(0.0);
        self.at_s = self.at_s.max(at_s);
        let stays = (-years * YEAR_S / OFFSET_STAYS_S).exp();
        let offset = bank.sensor.offset_a / bank.rated_capacity_ah;
        self.state.mean[at::LEVEL] += self.state.mean[at::FADE] * years;
        self.state.mean[at::OFFSET] *= stays;
        // A fade that drifts moves the level too: the cubic and the square of an integrated random walk.
        let drift = FADE_DRIFT * FADE_DRIFT;
        let (fade, unshown) = (self.state.mean[at::FADE], self.state.mean[at::UNSHOWN]);
        self.state.mean[at::AGED] -= unshown * fade * years;
        let strays = match bank.chemistry.family() {
            Family::Lead => AGED_DRIFT.0,
            Family::Lithium => AGED_DRIFT.1,
        };
        self.state.spread(
            &[
                (at::LEVEL, at::FADE, years),
                (at::AGED, at::FADE, -unshown * years),
                (at::AGED, at::UNSHOWN, -fade * years),
                (at::OFFSET, at::OFFSET, stays - 1.0),
            ],
            &[
                (at::AGED, strays * strays * years),
                (at::LEVEL, LEVEL_DRIFT * LEVEL_DRIFT * years + drift * years.powi(3) / 12.0),
                (at::OFFSET, offset * offset * (1.0 - stays * stays)),
            ],
        );
        self.state
            .stir(&[(at::LEVEL, years / 2.0), (at::FADE, 1.0), (at::AGED, -unshown * years / 2.0)], drift * years);
        let level: [Part; KNOTS] = std::array::from_fn(|i| (at::CURVE + i, 1.0));
        let tilt: [Part; KNOTS] = std::array::from_fn(|i| (at::CURVE + i, 1.0 - knot_soc(i)));
        self.state.stir(&level, CURVE_DRIFT_V.0 * CURVE_DRIFT_V.0 * years);
        self.state.stir(&tilt, CURVE_DRIFT_V.1 * CURVE_DRIFT_V.1 * years);
    }
}

fn knot_soc(i: usize) -> f64 {
    i as f64 / (KNOTS - 1) as f64
}

/// The two knots around a state of charge, with their weights.
fn between_knots(soc: f64) -> [(usize, f64); 2] {
    let lower = (0..KNOTS - 1).rev().find(|&i| knot_soc(i) <= soc).unwrap_or(0);
    let part = (soc.clamp(0.0, 1.0) - knot_soc(lower)) * (KNOTS - 1) as f64;
    [(lower, 1.0 - part), (lower + 1, part)]
}

/// A distribution is saved as its mean and half its covariance.
mod saved {
    use super::{Gaussian, N, Saved};
    use serde::{Deserialize, Deserializer, Serialize, Serializer, de::Error};

    pub fn serialize<S: Serializer>(state: &Gaussian<N>, to: S) -> Result<S::Ok, S::Error> {
        Saved::from(state).serialize(to)
    }

    pub fn deserialize<'de, D: Deserializer<'de>>(from: D) -> Result<Gaussian<N>, D::Error> {
        Saved::deserialize(from)?.restore().ok_or_else(|| D::Error::custom("it is the state of other quantities"))
    }
}

#[cfg(test)]
mod tests;
