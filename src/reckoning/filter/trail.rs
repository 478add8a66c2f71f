//! The way the filter came, for smoothing it afterwards.
//!
//! A fixed-interval smoother (Rauch, Tung & Striebel, AIAA J. 3 (1965) 1445) between knots a few minutes apart. From knot
//! to knot the filter takes many small steps; the covariance between the state at the last knot and the present one is
//! carried along, so that a knot is tied to the next by one gain whatever lay between. When the way grows long, every
//! second knot is tied away, so that memory stays bounded.

use crate::reckoning::gaussian::{Element, Gaussian, Part, Update, transition_columns};

type Matrix<const N: usize> = [[f64; N]; N];

/// Place of the charge, in every distribution that is trailed.
const CHARGE: usize = 0;

/// Time between knots at first, s; it doubles as the way grows.
const FIRST_SPACING_S: f64 = 600.0;
/// Knots at most before every second one is tied away.
const KNOTS_AT_MOST: usize = 256;

/// A knot tied to the next one.
#[derive(Debug, Clone)]
struct Link<const N: usize> {
    /// When, s from the beginning.
    at_s: f64,
    /// Charge at the knot as reckoned at the time, and its 1 σ.
    charge: f64,
    std_dev: f64,
    /// The knot's state with all that was known at the next knot.
    known: Gaussian<N>,
    /// Smoothing gain.
    gain: Box<Matrix<N>>,
    /// The next knot's state as reckoned at the time.
    next: Gaussian<N>,
}

/// The charge at a knot with all that is known at the end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SmoothedKnot {
    /// When, s from the beginning.
    pub at_s: f64,
    /// Smoothed minus reckoned at the time.
    pub correction: f64,
    /// 1 σ of the smoothed charge.
    pub std_dev: f64,
    /// The same against what was reckoned at the time, ratio.
    pub surer: f64,
}

/// The filter's way since a fix or a start.
#[derive(Debug, Clone)]
pub struct Trail<const N: usize> {
    links: Vec<Link<N>>,
    spacing_s: f64,
    elapsed_s: f64,
    opened_s: f64,
    charge: f64,
    std_dev: f64,
    known: Gaussian<N>,
    /// Covariance of the state at the open knot with the present one.
    cross: Matrix<N>,
}

impl<const N: usize> Trail<N> {
    /// A way that begins at a state.
    pub(super) fn begin(normal: &Gaussian<N>) -> Trail<N> {
        Trail {
            links: Vec::new(),
            spacing_s: FIRST_SPACING_S,
            elapsed_s: 0.0,
            opened_s: 0.0,
            charge: normal.mean[CHARGE],
            std_dev: normal.std_dev(CHARGE),
            known: normal.clone(),
            cross: normal.covariance,
        }
    }

    /// Seconds from the beginning.
    pub(super) const fn elapsed_s(&self) -> f64 {
        self.elapsed_s
    }

    pub(super) fn spread(&mut self, elements: &[Element]) {
        transition_columns(&mut self.cross, elements);
    }

    /// The evidence that changed the present state changes the open knot's as well.
    pub(super) fn update(&mut self, row: &[Part], update: &Update<N>) {
        let with: [f64; N] = std::array::from_fn(|i| row.iter().map(|&(j, value)| self.cross[i][j] * value).sum());
        for i in 0..N {
            let gain = with[i] / update.variance;
            self.known.mean[i] += gain * update.innovation;
            for j in 0..N {
                self.known.covariance[i][j] -= gain * with[j];
                self.cross[i][j] -= with[i] * update.gain[j];
            }
        }
    }

    /// The present mean was moved along `row` by `innovation` with unchanged covariance.
    pub(super) fn shift(&mut self, row: &[Part], variance: f64, innovation: f64) {
        for i in 0..N {
            let with: f64 = row.iter().map(|&(j, value)| self.cross[i][j] * value).sum();
            self.known.mean[i] += with / variance * innovation;
        }
    }

    /// A quantity is known anew: its present value says nothing of the open knot.
    pub(super) fn forget(&mut self, place: usize) {
        for row in &mut self.cross {
            row[place] = 0.0;
        }
    }

    /// Time has passed; ties a knot when one is due.
    pub(super) fn pass(&mut self, seconds: f64, normal: &Gaussian<N>) {
        self.elapsed_s += seconds;
        if self.elapsed_s - self.opened_s >= self.spacing_s {
            self.knot(normal);
        }
    }

    /// Ties a knot here.
    pub(super) fn knot(&mut self, normal: &Gaussian<N>) {
        let link = Link {
            at_s: self.opened_s,
            charge: self.charge,
            std_dev: self.std_dev,
            known: self.known.clone(),
            gain: Box::new(smoothing_gain(&self.cross, &normal.covariance)),
            next: normal.clone(),
        };
        self.links.push(link);
        self.opened_s = self.elapsed_s;
        self.charge = normal.mean[CHARGE];
        self.std_dev = normal.std_dev(CHARGE);
        self.known = normal.clone();
        self.cross = normal.covariance;
        if self.links.len() > KNOTS_AT_MOST {
            self.thin();
        }
    }

    /// Ties every second knot away.
    fn thin(&mut self) {
        self.spacing_s *= 2.0;
        let mut links = std::mem::take(&mut self.links).into_iter();
        while let Some(first) = links.next() {
            self.links.push(match links.next() {
                Some(second) => first.tied_with(second),
                None => first,
            });
        }
    }

    /// The charge at every knot with all that is known at the end, the last knot first tied.
    #[must_use]
    pub fn smoothed(&self) -> Vec<SmoothedKnot> {
        let mut later = Gaussian { mean: self.known.mean, covariance: self.known.covariance };
        let last = SmoothedKnot { at_s: self.opened_s, correction: 0.0, std_dev: later.std_dev(CHARGE), surer: 1.0 };
        let mut knots = vec![last];
        for link in self.links.iter().rev() {
            later = link.smoothed(&later);
            knots.push(SmoothedKnot {
                at_s: link.at_s,
                correction: later.mean[CHARGE] - link.charge,
                std_dev: later.std_dev(CHARGE),
                surer: (later.std_dev(CHARGE) / link.std_dev.max(f64::MIN_POSITIVE)).min(1.0),
            });
        }
        knots.reverse();
        knots
    }
}

impl<const N: usize> Link<N> {
    /// The knot's state when the next one's is known to be `later`.
    fn smoothed(&self, later: &Gaussian<N>) -> Gaussian<N> {
        let moved: [f64; N] = std::array::from_fn(|i| later.mean[i] - self.next.mean[i]);
        let change: Matrix<N> =
            std::array::from_fn(|i| std::array::from_fn(|j| later.covariance[i][j] - self.next.covariance[i][j]));
        let half = product(&self.gain, &change);
        let mut smoothed = self.known.clone();
        for (i, mean) in smoothed.mean.iter_mut().enumerate() {
            *mean += dot(&self.gain[i], &moved);
            for (j, element) in smoothed.covariance[i].iter_mut().enumerate() {
                *element += dot(&half[i], &self.gain[j]);
            }
        }
        smoothed
    }

    /// This knot tied to the one after the next.
    fn tied_with(self, second: Link<N>) -> Link<N> {
        Link {
            at_s: self.at_s,
            charge: self.charge,
            std_dev: self.std_dev,
            known: self.smoothed(&second.known),
            gain: Box::new(product(&self.gain, &second.gain)),
            next: second.next,
        }
    }
}

fn dot<const N: usize>(a: &[f64; N], b: &[f64; N]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn product<const N: usize>(a: &Matrix<N>, b: &Matrix<N>) -> Matrix<N> {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..N).map(|k| a[i][k] * b[k][j]).sum()))
}

/// `cross · covariance⁻¹` by Cholesky's factors; a direction without variance gets no gain.
fn smoothing_gain<const N: usize>(cross: &Matrix<N>, covariance: &Matrix<N>) -> Matrix<N> {
    let lower = cholesky(covariance);
    std::array::from_fn(|i| solve(&lower, &cross[i]))
}

fn cholesky<const N: usize>(matrix: &Matrix<N>) -> Matrix<N> {
    let mut lower = [[0.0; N]; N];
    for i in 0..N {
        for j in 0..=i {
            let known: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            let rest = matrix[i][j] - known;
            lower[i][j] = if i == j {
                // Rounding must not make a root of nothing.
                rest.max(1e-10 * matrix[i][i].abs() + 1e-300).sqrt()
            } else {
                rest / lower[j][j]
            };
        }
    }
    lower
}

/// Solves `L Lᵀ x = b`.
fn solve<const N: usize>(lower: &Matrix<N>, b: &[f64; N]) -> [f64; N] {
    let mut x = *b;
    for i in 0..N {
        let known: f64 = (0..i).map(|k| lower[i][k] * x[k]).sum();
        x[i] = (x[i] - known) / lower[i][i];
    }
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|k| lower[k][i] * x[k]).sum();
        x[i] = (x[i] - known) / lower[i][i];
    }
    x
}

#[cfg(test)]
mod tests;
