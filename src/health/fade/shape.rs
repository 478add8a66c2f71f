//! How the rate of fade changes with what has faded, and what is held likely of it before a bank has said anything.
//!
//! The rate of fade is taken as a function of the loss L so far (parts of the rating), not of the calendar:
//!
//! `dL/dx = a (1 + L / s)^m (1 + (r - 1) / (1 + exp((K - L) / w)))`
//!
//! with `m = -1` the square root of time (a layer that grows by diffusion), `m = 0` the straight line, `m = 1` growth that feeds
//! itself; any power of time from 0.5 up lies between or close by. The last factor is a knee at the loss `K`, after which the rate is
//! `r` times what it was. The pace `a` is free, so that x may be days or cycles.

use crate::quantity::Estimate;

use super::theil_sen::count_f64;
use crate::health::normal::normal_quantile;

/// Losses at which the course is worked out: so many up to the greatest, closer where the loss is small.
pub(super) const STEPS: usize = 161;
const GREATEST: f64 = 0.6;
/// Width of a knee, parts of the rating [assumed].
const KNEE_WIDTH: f64 = 0.01;

/// What is held likely of the shape of a bank's fade before its findings are seen: with the chance `seen`, it is one of
/// a population whose shapes were learned; otherwise anything that physics has been seen to do.
///
/// The second part, **anything**: `m` even between -1 and 1, `s` from 0.002 to 0.05; a knee with chance 0.9,
/// its loss even from 0 to 0.2 and its ratio from 1.5 to 15, logarithmic [assumed: from diffusion-limited growth
/// (square root of time) to growth that feeds itself, from a bend that is hardly seen to what is called sudden death].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Chance of the learned population, 0..1.
    pub seen: f64,
    /// The learned population.
    pub population: Population,
}

/// Shapes of a population of cells, each quantity by its middle and 1 σ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Population {
    /// `m`.
    pub bend: Estimate,
    /// ln of `s`.
    pub ln_scale: Estimate,
    /// `K`, loss at the knee, parts of the rating.
    pub knee_at: Estimate,
    /// ln of `r`.
    pub ln_ratio: Estimate,
}

/// One shape, and how likely it was before.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    bend: f64,
    scale: f64,
    knee_at: f64,
    ratio: f64,
    pub chance: f64,
}

impl Prior {
    /// Even odds for a population learned from 124 lithium iron phosphate cells that were cycled to their end, and for anything
    /// [the odds are assumed]. The population: middle and spread of the shapes fitted to whole lives of the cells of K. A. Severson et
    /// al., Nature Energy 4 (2019) 383, and P. M. Attia et al., Nature 578 (2020) 397, CC BY 4.0, as collected by C. Strange et al.;
    /// worked out by `tests/reference/generator/fade_shapes.py`.
    pub const USUAL: Prior = Prior {
        seen: 0.5,
        population: Population {
            bend: Estimate { value: 0.82, std_dev: 0.48 },
            ln_scale: Estimate { value: -5.47, std_dev: 1.40 },
            knee_at: Estimate { value: 0.053, std_dev: 0.012 },
            ln_ratio: Estimate { value: 1.25, std_dev: 0.62 },
        },
    };

    /// `each` shapes of either part, spread evenly by Halton's sequence, so that the same findings give the same forecast.
    pub(super) fn shapes(&self, each: u32) -> impl Iterator<Item = Shape> + '_ {
        let chance = f64::from(each).recip();
        (1..=each)
            .flat_map(move |i| {
                let [a, b, c, d, e] = [2, 3, 5, 7, 11].map(|base| halton(i, base));
                let learned = self.population.shape([a, b, c, d], self.seen * chance);
                let anything = Shape {
                    bend: 2.0 * a - 1.0,
                    scale: 0.002 * 25.0_f64.powf(b),
                    knee_at: 0.20 * c,
                    ratio: if e < 0.9 { 1.5 * 10.0_f64.powf(d) } else { 1.0 },
                    chance: (1.0 - self.seen) * chance,
                };
                [learned, anything]
            })
            .filter(|shape| shape.chance > 0.0)
    }
}

impl Population {
    fn shape(&self, at: [f64; 4], chance: f64) -> Shape {
        let [bend, ln_scale, knee_at, ln_ratio] = [self.bend, self.ln_scale, self.knee_at, self.ln_ratio];
        let of = |estimate: Estimate, p: f64| estimate.value + estimate.std_dev * normal_quantile(p);
        Shape {
            bend: of(bend, at[0]),
            scale: of(ln_scale, at[1]).exp(),
            knee_at: of(knee_at, at[2]),
            ratio: of(ln_ratio, at[3]).exp().max(1.0),
            chance,
        }
    }
}

impl Shape {
    fn rate(&self, loss: f64) -> f64 {
        let knee = 1.0 + (self.ratio - 1.0) / (1.0 + ((self.knee_at - loss) / KNEE_WIDTH).exp());
        (1.0 + loss / self.scale).powf(self.bend) * knee
    }

    /// When each loss is reached at the pace 1, by trapezoids.
    pub(super) fn course(&self) -> Course {
        let mut times = [0.0; STEPS];
        let mut slowness_before = self.rate(0.0).recip();
        for i in 1..STEPS {
            let slowness = self.rate(LOSSES[i]).recip();
            times[i] = times[i - 1] + (LOSSES[i] - LOSSES[i - 1]) * 0.5 * (slowness + slowness_before);
            slowness_before = slowness;
        }
        Course { times }
    }
}

/// Loss against the step.
const LOSSES: [f64; STEPS] = {
    let mut losses = [0.0; STEPS];
    let mut i = 0;
    while i < STEPS {
        #[expect(clippy::cast_precision_loss, reason = "small counts")]
        let part = i as f64 / (STEPS - 1) as f64;
        losses[i] = GREATEST * part * part;
        i += 1;
    }
    losses
};

/// Loss against time at the pace 1.
pub(super) struct Course {
    times: [f64; STEPS],
}

impl Course {
    /// When a loss is reached; the loss is kept between 0 and 0.6.
    pub(super) fn time_of(&self, loss: f64) -> f64 {
        let loss = loss.clamp(0.0, GREATEST);
        let step = ((loss / GREATEST).sqrt() * (count_f64(STEPS) - 1.0)).min(count_f64(STEPS) - 1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and STEPS - 1")]
        let below = (step as usize).min(STEPS - 2);
        let (low, high) = (LOSSES[below], LOSSES[below + 1]);
        let part = ((loss - low) / (high - low)).clamp(0.0, 1.0);
        self.times[below] + part * (self.times[below + 1] - self.times[below])
    }

    /// The losses at times that rise.
    pub(super) fn losses<'a>(&'a self, times: impl Iterator<Item = f64> + 'a) -> impl Iterator<Item = f64> + 'a {
        let mut below = 0;
        times.map(move |t| {
            while below < STEPS - 2 && self.times[below + 1] < t {
                below += 1;
            }
            let part = (t - self.times[below]) / (self.times[below + 1] - self.times[below]);
            let (low, high) = (LOSSES[below], LOSSES[below + 1]);
            low + part.clamp(0.0, 1.0) * (high - low)
        })
    }
}

/// The `i`-th number of van der Corput's sequence to a base, 0..1 (J. H. Halton, Numer. Math. 2 (1960) 84).
fn halton(mut i: u32, base: u32) -> f64 {
    let (mut value, mut digit) = (0.0, 1.0);
    while i > 0 {
        digit /= f64::from(base);
        value += digit * f64::from(i % base);
        i /= base;
    }
    value
}
