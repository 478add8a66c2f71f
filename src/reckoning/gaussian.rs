//! A normal distribution over a few quantities, and how evidence and time change it.
//!
//! The Kalman filter's algebra (R. E. Kalman, J. Basic Eng. 82 (1960) 35) for scalar measurements, in Joseph's form (P. D.
//! Joseph; R. S. Bucy & P. D. Joseph, Filtering for Stochastic Processes, 1968), which keeps the covariance symmetric and
//! positive over years of steps. Transitions differ from the identity in a few places only, and so are told.

use serde::{Deserialize, Serialize};

/// Mean and covariance of `N` quantities.
#[derive(Debug, Clone, PartialEq)]
pub struct Gaussian<const N: usize> {
    /// The mean.
    pub mean: [f64; N],
    /// The covariance, symmetric.
    pub covariance: [[f64; N]; N],
}

/// One element of a transition beyond the identity: row, column, value.
pub type Element = (usize, usize, f64);
/// One element of a measurement's row: column, value.
pub type Part = (usize, f64);

/// What a measurement did.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Update<const N: usize> {
    /// Measured minus expected.
    pub innovation: f64,
    /// Variance that was expected of it.
    pub variance: f64,
    /// Covariance of each quantity with what was measured, before it, over that variance: the gain, but for quantities that were only
    /// considered, whose gain was none. What happened with a state of the past follows from these and not from the gain.
    pub gain: [f64; N],
}

impl<const N: usize> Gaussian<N> {
    /// A distribution of independent quantities.
    #[must_use]
    pub fn independent(mean: [f64; N], std_dev: [f64; N]) -> Gaussian<N> {
        let mut covariance = [[0.0; N]; N];
        for (i, row) in covariance.iter_mut().enumerate() {
            row[i] = std_dev[i] * std_dev[i];
        }
        Gaussian { mean, covariance }
    }

    /// Moves the covariance by a transition `1 + E` and adds process noise on the diagonal; the mean is moved by the
    /// caller, whose model may be no straight line.
    pub fn spread(&mut self, elements: &[Element], noise: &[Part]) {
        transition_rows(&mut self.covariance, elements);
        transition_columns(&mut self.covariance, elements);
        for &(i, variance) in noise {
            self.covariance[i][i] += variance;
        }
    }

    /// Adds noise that moves several quantities together, along `direction`.
    pub fn stir(&mut self, direction: &[Part], variance: f64) {
        for &(i, a) in direction {
            for &(j, b) in direction {
                self.covariance[i][j] += variance * a * b;
            }
        }
    }

    /// One quantity is known anew, to `variance`, by something that has nothing to do with the others.
    pub fn forget(&mut self, i: usize, variance: f64) {
        for row in &mut self.covariance {
            row[i] = 0.0;
        }
        self.covariance[i] = [0.0; N];
        self.covariance[i][i] = variance;
    }

    /// Variance of a weighted sum.
    #[must_use]
    pub fn variance_of(&self, row: &[Part]) -> f64 {
        row.iter().map(|&(i, a)| a * row.iter().map(|&(j, b)| b * self.covariance[i][j]).sum::<f64>()).sum()
    }

    /// Standard deviation of one quantity.
    #[must_use]
    pub fn std_dev(&self, i: usize) -> f64 {
        self.covariance[i][i].max(0.0).sqrt()
    }

    /// Covariance of each quantity with a weighted sum.
    #[must_use]
    pub fn with(&self, row: &[Part]) -> [f64; N] {
        std::array::from_fn(|i| row.iter().map(|&(j, value)| self.covariance[i][j] * value).sum())
    }

    /// Takes a scalar measurement: `innovation` is measured minus expected, `row` its derivative, `noise` its own variance.
    pub fn update(&mut self, row: &[Part], innovation: f64, noise: f64) -> Update<N> {
        self.update_but(row, innovation, noise, |_| false)
    }

    /// The same, but quantities of which `considered` is true are left as they are: their doubt counts, and nothing is learned
    /// of them (S. F. Schmidt, Advances in Control Systems 3 (1966) 293, from memory).
    pub fn update_but(
        &mut self,
        row: &[Part],
        innovation: f64,
        noise: f64,
        considered: impl Fn(usize) -> bool,
    ) -> Update<N> {
        let with = self.with(row);
        let variance = row.iter().map(|&(i, value)| with[i] * value).sum::<f64>() + noise;
        let best = with.map(|c| c / variance);
        let gain: [f64; N] = std::array::from_fn(|i| if considered(i) { 0.0 } else { best[i] });
        for i in 0..N {
            self.mean[i] += gain[i] * innovation;
            for j in 0..=i {
                // (1 - K H) P (1 - K H)' + K R K' written out for one measurement.
                let value =
                    self.covariance[i][j] - gain[i] * with[j] - with[i] * gain[j] + gain[i] * variance * gain[j];
                self.covariance[i][j] = value;
                self.covariance[j][i] = value;
            }
        }
        Update { innovation, variance, gain: best }
    }
}

fn transition_rows<const N: usize>(matrix: &mut [[f64; N]; N], elements: &[Element]) {
    let before = *matrix;
    for &(row, column, value) in elements {
        for j in 0..N {
            matrix[row][j] += value * before[column][j];
        }
    }
}

/// Multiplies by the transpose of `1 + E` from the right.
pub fn transition_columns<const N: usize>(matrix: &mut [[f64; N]; N], elements: &[Element]) {
    for row in matrix.iter_mut() {
        let before = *row;
        for &(to, from, value) in elements {
            row[to] += value * before[from];
        }
    }
}

/// A distribution as it is saved: the mean, and the covariance's lower triangle row by row.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Saved {
    mean: Vec<f64>,
    lower: Vec<f64>,
}

impl<const N: usize> From<&Gaussian<N>> for Saved {
    fn from(gaussian: &Gaussian<N>) -> Saved {
        let lower = (0..N).flat_map(|i| gaussian.covariance[i][..=i].to_vec()).collect();
        Saved { mean: gaussian.mean.to_vec(), lower }
    }
}

impl Saved {
    /// The distribution, if it is one of `N` quantities.
    pub fn restore<const N: usize>(&self) -> Option<Gaussian<N>> {
        let mean: [f64; N] = self.mean.clone().try_into().ok()?;
        if self.lower.len() != N * (N + 1) / 2 {
            return None;
        }
        let mut covariance = [[0.0; N]; N];
        let places = (0..N).flat_map(|i| (0..=i).map(move |j| (i, j)));
        for ((i, j), &value) in places.zip(&self.lower) {
            covariance[i][j] = value;
            covariance[j][i] = value;
        }
        Some(Gaussian { mean, covariance })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_equal_witnesses_halve_the_variance() {
        let mut g = Gaussian::independent([0.0, 5.0], [2.0, 1.0]);
        let update = g.update(&[(0, 1.0)], 1.0, 4.0);
        assert!((g.mean[0] - 0.5).abs() < 1e-12 && (g.covariance[0][0] - 2.0).abs() < 1e-12);
        assert!((update.variance - 8.0).abs() < 1e-12 && (g.covariance[1][1] - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_transition_is_the_matrix_product() {
        let mut g = Gaussian::independent([0.0; 3], [1.0, 2.0, 3.0]);
        // F = 1 + E with E01 = 0.5 and E22 = -0.1.
        g.spread(&[(0, 1, 0.5), (2, 2, -0.1)], &[(1, 0.25)]);
        assert!((g.covariance[0][0] - (1.0 + 0.25 * 4.0)).abs() < 1e-12);
        assert!((g.covariance[0][1] - 2.0).abs() < 1e-12 && (g.covariance[1][0] - 2.0).abs() < 1e-12);
        assert!((g.covariance[1][1] - 4.25).abs() < 1e-12 && (g.covariance[2][2] - 9.0 * 0.81).abs() < 1e-12);
    }
}
