//! One finding as evidence: what was measured, and through which shared errors.

use crate::battery::Bank;
use crate::quantity::Estimate;

/// An end of a finding that is a rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RestEnd {
    /// 1 where the charge was drawn from here, -1 where it was drawn down to here.
    pub sign: f64,
    /// Rest voltage, V a cell.
    pub cell_v: f64,
    /// 1 σ of it beside what the curve is wrong by, V a cell.
    pub noise_v: f64,
}

/// A fall of the state of charge and the charge that was drawn meanwhile. Charges are in parts of the rated capacity.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// Fall of the state of charge as far as its ends are no rests: a rest's state of charge is added by its sign.
    pub fall: f64,
    /// Variance of what is that finding's own in it.
    pub fall_variance: f64,
    /// Charge drawn between the ends, less what came in and stayed.
    pub drawn: f64,
    /// Variance of what is that finding's own in it: charging losses, time that nobody saw.
    pub drawn_variance: f64,
    /// Charge that came in on the way, short of full: by how much less was drawn for each unit by which more of it stayed.
    pub charged: f64,
    /// The same for a charge that went on to full, where other losses are: by how much more was put back, and so had been drawn.
    pub topped: f64,
    /// By how much more charge was drawn than counted for each unit of the sensor's offset, h.
    pub offset_h: f64,
    /// Error of the fall for each standard deviation of the rate curve's slope.
    pub rate: f64,
    /// Ends that are rests.
    pub rests: Vec<RestEnd>,
}

impl Evidence {
    /// 1 σ of the charge by which the bank's losses may differ from the preset's, parts of the rated capacity.
    #[must_use]
    pub fn losses_std_dev(&self, bank: &Bank) -> f64 {
        bank.preset().efficiency_std_dev * self.charged.hypot(self.topped)
    }

    /// The fall of the state of charge by the preset's curve, with all its doubt, shared or not.
    #[must_use]
    pub fn fall_by_preset(&self, bank: &Bank) -> Estimate {
        let shape = bank.preset().voltage.shape;
        let read: Vec<(f64, OnCurve)> =
            self.rests.iter().map(|end| (end.sign, OnCurve::find(bank, end.cell_v, 0.0, |_| 0.0))).collect();
        let value = self.fall + read.iter().map(|(sign, on)| sign * on.soc).sum::<f64>();
        let own: f64 = self.rests.iter().zip(&read).map(|(end, (_, on))| (end.noise_v / on.slope_v).powi(2)).sum();
        let curve: f64 = read
            .iter()
            .flat_map(|(a, on)| {
                read.iter()
                    .map(move |(b, other)| a * b * shape.covariance(on.soc, other.soc) / (on.slope_v * other.slope_v))
            })
            .sum();
        let knee = shape.knee * read.iter().map(|(sign, on)| sign * on.knee).sum::<f64>();
        let variance = self.fall_variance + own + curve + knee * knee + self.rate * self.rate;
        Estimate { value, std_dev: variance.max(0.0).sqrt() }
    }
}

/// What a rest voltage says by a curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnCurve {
    /// State of charge.
    pub soc: f64,
    /// Slope that the curve has there at least, V a cell for the whole charge.
    pub slope_v: f64,
    /// How much of a shift of the knee at the empty end counts there, 0..1.
    pub knee: f64,
}

/// Part of the capacity over which a curve must be as steep as its slope is taken for (assumed).
const STEEP_OVER: f64 = 0.03;
/// Least slope, V a cell: a correction never turns the curve round.
const LEAST_SLOPE_V: f64 = 0.01;

impl OnCurve {
    /// Finds a rest voltage on the preset's curve, whose knee lies `knee` elsewhere and which is wrong by `error_v`.
    #[must_use]
    pub fn find(bank: &Bank, cell_v: f64, knee: f64, error_v: impl Fn(f64) -> f64) -> OnCurve {
        let voltage = &bank.preset().voltage;
        let below = voltage.shape.knee_below;
        let near_empty = |soc: f64| ((below - soc) / below).clamp(0.0, 1.0);
        let at = |soc: f64| voltage.ocv.at(soc + knee * near_empty(soc)).0 + error_v(soc);
        let (mut low, mut high) = (-0.5, 1.5);
        for _ in 0..40 {
            let middle = f64::midpoint(low, high);
            if at(middle) < cell_v {
                low = middle;
            } else {
                high = middle;
            }
        }
        let soc = f64::midpoint(low, high);
        let here = at(soc);
        let down = (here - at(soc - STEEP_OVER)) / STEEP_OVER;
        let up = (at(soc + STEEP_OVER) - here) / STEEP_OVER;
        OnCurve { soc, slope_v: down.min(up).max(LEAST_SLOPE_V), knee: near_empty(soc) }
    }
}
