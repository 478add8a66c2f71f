//! One way down from full: the mean voltage against charge drawn and current, each monobloc's deviation along it, and what
//! that says of its capacity.
//!
//! Both are fitted by least squares from the same sums: first the mean voltage as `a + b q + c q² + r i` (`q` charge drawn
//! in parts of the rated capacity, `i` current in A per Ah), whose fall along the way is `b q + 2 c q²`; then each deviation
//! as `a' + k · fall + r' i`. `k` is `s / (1 - s)`. `b` and `c` are held loosely by the preset's rest-voltage curve, for ways
//! too short to tell them.

use serde::{Deserialize, Serialize};

use super::solve::solve;
use crate::battery::Bank;
use crate::quantity::Estimate;

/// The terms: 1, q, q², i.
const TERMS: usize = 4;
/// Least minutes under load, and least depth from the first to the last of them, in parts of the capacity.
const MINUTES_LEAST: f64 = 60.0;
/// See above.
const DEPTH_LEAST: f64 = 0.15;
/// How long an error of the voltages stays, minutes: so many count as one (assumed, as for reckoning).
const STAYS: f64 = 60.0;
/// 1 σ of the preset's slope, in parts of it, and of its bend (assumed: under load the curve falls faster than at rest).
const SLOPE_DOUBT: f64 = 1.0;
/// Voltages of one monobloc that differ from the others' by more than its capacity, V a cell, 1 σ (assumed: differences in
/// acid, in hysteresis, and in the sensors along the way).
const OTHER_V: f64 = 0.000_5;

/// Sums over the minutes under load since full.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Leg {
    minutes: f64,
    shallowest: f64,
    deepest: f64,
    normal: [[f64; TERMS]; TERMS],
    /// Of the mean voltage, V.
    mean: [f64; TERMS],
    /// Of each deviation, V, and of its square.
    deviations: Vec<([f64; TERMS], f64)>,
}

impl Leg {
    /// Takes a minute under load: charge drawn (ratio), current (A per Ah, negative), mean of the voltages and deviations, V.
    pub fn take(&mut self, drawn: f64, rate: f64, mean_v: f64, deviations_v: &[f64]) {
        if self.minutes < 0.5 {
            self.shallowest = drawn;
            self.deviations = vec![([0.0; TERMS], 0.0); deviations_v.len()];
        }
        if self.deviations.len() != deviations_v.len() {
            return;
        }
        let terms = [1.0, drawn, drawn * drawn, rate];
        self.minutes += 1.0;
        self.shallowest = self.shallowest.min(drawn);
        self.deepest = self.deepest.max(drawn);
        for (i, term) in terms.iter().enumerate() {
            self.mean[i] += term * mean_v;
            for (j, other) in terms.iter().enumerate() {
                self.normal[i][j] += term * other;
            }
        }
        for ((sums, squares), v) in self.deviations.iter_mut().zip(deviations_v) {
            for (sum, term) in sums.iter_mut().zip(terms) {
                *sum += term * v;
            }
            *squares += v * v;
        }
    }

    /// Shortfall of each monobloc, ratio, with its error; empty where the way says nothing.
    pub fn shortfalls(&self, bank: &Bank) -> Vec<Estimate> {
        let monoblocs = self.deviations.len();
        if self.minutes < MINUTES_LEAST || self.deepest - self.shallowest < DEPTH_LEAST || monoblocs < 2 {
            return Vec::new();
        }
        let cells = f64::from(bank.cells_in_series) / (monoblocs as f64);
        let Some([_, b, c, _]) = self.mean_curve(bank, cells) else { return Vec::new() };
        self.deviations.iter().filter_map(|(sums, squares)| self.shortfall((b, c), sums, *squares, cells)).collect()
    }

    /// The mean voltage, held by the preset's slope where the way is short.
    fn mean_curve(&self, bank: &Bank, cells: f64) -> Option<[f64; TERMS]> {
        let ocv = |soc: f64| bank.preset().voltage.ocv.at(soc).0;
        let slope = -cells * (ocv(1.0 - self.shallowest) - ocv(1.0 - self.deepest)) / (self.deepest - self.shallowest);
        let doubt = SLOPE_DOUBT * slope;
        // The fit is as sure as the voltage model, for as many hours as the way has.
        let weight = (cells * bank.preset().voltage.colour_v).powi(2) * STAYS / doubt.powi(2);
        let (mut normal, mut right) = (self.normal, self.mean);
        for (i, expected) in [(1, slope), (2, 0.0)] {
            normal[i][i] += weight;
            right[i] += weight * expected;
        }
        solve(&normal, &right)
    }

    fn shortfall(&self, (b, c): (f64, f64), sums: &[f64; TERMS], squares: f64, cells: f64) -> Option<Estimate> {
        // The terms of the second fit, 1, fall, i, in those of the first.
        let turn = [[1.0, 0.0, 0.0, 0.0], [0.0, b, 2.0 * c, 0.0], [0.0, 0.0, 0.0, 1.0]];
        let normal = turn.map(|row| turn.map(|column| product(&row, &self.normal, &column)));
        let right = turn.map(|row| row.iter().zip(sums).map(|(a, sum)| a * sum).sum());
        let fit = solve(&normal, &right)?;
        let explained: f64 = fit.iter().zip(&right).map(|(a, sum)| a * sum).sum();
        let scatter_v2 = ((squares - explained) / self.minutes).max(0.0);
        // 1 σ of `k`: what is left of the fall after the constant and the current have taken their share.
        let alone = 1.0 / solve(&normal, &[0.0, 1.0, 0.0])?[1];
        let independent = (self.minutes / STAYS).max(1.0);
        let error_v2 = scatter_v2 + (OTHER_V * cells).powi(2);
        let std_dev = (error_v2 / independent / (alone / self.minutes)).sqrt();
        // Against the others, not against the mean that holds it too.
        let monoblocs = self.deviations.len() as f64;
        let k = fit[1] * monoblocs / (monoblocs - 1.0);
        let std_dev = std_dev * monoblocs / (monoblocs - 1.0);
        (k > -0.5).then(|| Estimate { value: k / (1.0 + k), std_dev: std_dev / (1.0 + k).powi(2) })
    }
}

fn product<const N: usize>(a: &[f64; N], matrix: &[[f64; N]; N], b: &[f64; N]) -> f64 {
    (0..N).map(|i| (0..N).map(|j| a[i] * matrix[i][j] * b[j]).sum::<f64>()).sum()
}
