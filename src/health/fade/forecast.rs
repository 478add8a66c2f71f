//! When capacity reaches a threshold: every shape of fade that was held likely, weighed by how well it explains the findings.

use crate::battery::Range;
use crate::quantity::{Band, Estimate};

use super::scatter::{Bin, smooth_at};
use super::shape::{Course, Shape};
use super::{Life, Terms};

/// Shapes of either part of the prior.
const SHAPES: u32 = 400;
/// Losses so far that are tried: so many from 0.0005 to 0.4, even in their logarithm; then the likely ones more closely.
const COARSE: u32 = 24;
const LEAST_LOSS: f64 = 0.0005;
const GREATEST_LOSS: f64 = 0.4;
/// So many between two of those.
const FINE: u32 = 4;
/// Shapes and losses less likely than the best by this factor (as a logarithm) are left out.
const NEGLIGIBLE: f64 = 14.0;
/// The same for a first look, which judges by squares.
const HOPELESS: f64 = 60.0;
/// What no shape of the family tells, parts of the rating, 1 σ [assumed; whole lives of lithium cells leave 0.0006].
const SHAPE_ERROR: f64 = 0.001;
/// A new bank against its rating, 1 σ [assumed].
const NEW_STD_DEV: f64 = 0.08;
/// Degrees of freedom of Student's distribution for the findings' errors: heavy tails [assumed, as in K. L. Lange, R. J. A.
/// Little & J. M. G. Taylor, J. Am. Stat. Assoc. 84 (1989) 881, who recommend 4].
pub(super) const FREEDOM: f64 = 4.0;

/// Where x will be when capacity reaches the threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Forecast {
    /// As likely to come before as after.
    pub likely: f64,
    /// Holds the truth 90 % of the time.
    pub range_90: Range,
    /// Holds the truth 95 % of the time.
    pub band: Band,
}

/// One way things may go.
struct Way {
    /// x of the threshold.
    reaches: f64,
    /// Capacity over the rating at the last finding.
    now: f64,
    weight: f64,
}

/// When the threshold is reached, and capacity at the last finding. `None` where nothing explains the findings. The bins lie in
/// the order of x.
pub(super) fn forecast(bins: &[Bin], terms: &Terms) -> Option<(Forecast, Estimate)> {
    let trial = Trial::new(bins, terms)?;
    let looked: Vec<(Shape, Course, f64)> = terms
        .prior
        .shapes(SHAPES)
        .map(|shape| {
            let course = shape.course();
            let fit =
                (0..=COARSE).map(|i| trial.look(&course, loss_of(f64::from(i))).fit).fold(f64::NEG_INFINITY, f64::max);
            (shape, course, fit)
        })
        .collect();
    let hope = looked.iter().map(|(_, _, fit)| *fit).fold(f64::NEG_INFINITY, f64::max) - HOPELESS;
    let coarse: Vec<(Shape, Course, Vec<Tried>)> = looked
        .into_iter()
        .filter(|(_, _, fit)| *fit >= hope)
        .map(|(shape, course, _)| {
            let tried = (0..=COARSE).map(|i| trial.of(&course, loss_of(f64::from(i)))).collect();
            (shape, course, tried)
        })
        .collect();
    let best = coarse.iter().flat_map(|(_, _, tried)| tried).map(|t| t.fit).fold(f64::NEG_INFINITY, f64::max);
    let mut ways: Vec<Way> = Vec::new();
    for (shape, course, tried) in &coarse {
        if tried.iter().any(|t| t.fit > best - NEGLIGIBLE) {
            collect(&trial, course, tried, best, shape.chance.ln(), &mut ways);
        }
    }
    Some((quantiles(&mut ways)?, now(&ways)))
}

/// The loss at the `i`-th place of the scale.
fn loss_of(i: f64) -> f64 {
    LEAST_LOSS * (GREATEST_LOSS / LEAST_LOSS).powf(i / f64::from(COARSE))
}

/// A bin as the trials need it.
struct Seen {
    /// Part of the span that has passed.
    part: f64,
    ratio: f64,
    variance: f64,
    /// Weight under heavy tails, by its distance from a local line.
    weight: f64,
}

/// The findings, and what is asked of them.
struct Trial {
    seen: Vec<Seen>,
    first: f64,
    span: f64,
    threshold: f64,
    life: Option<Life>,
}

/// Capacity at the first x under a shape, and how well it explains the findings by squares.
struct Look {
    begun: f64,
    fit: f64,
}

/// A loss so far, tried for a shape.
#[derive(Clone, Copy)]
struct Tried {
    /// ln of the pace.
    ln_pace: f64,
    /// ln of the likelihood.
    fit: f64,
    /// x of the threshold.
    reaches: f64,
    /// Capacity at the last bin.
    now: f64,
}

impl Trial {
    /// `None` where all bins lie at one place.
    fn new(bins: &[Bin], terms: &Terms) -> Option<Trial> {
        let (first, last) = (bins.first()?, bins.last()?);
        let span = last.x - first.x;
        let pairs: Vec<(f64, f64)> = bins.iter().map(|bin| (bin.x, bin.ratio)).collect();
        let seen = |bin: &Bin| {
            let variance = bin.std_dev * bin.std_dev + SHAPE_ERROR * SHAPE_ERROR;
            let off = (bin.ratio - smooth_at(&pairs, bin.x)).powi(2);
            let weight = (FREEDOM + 1.0) / (FREEDOM * variance + off);
            Seen { part: (bin.x - first.x) / span, ratio: bin.ratio, variance, weight }
        };
        (span > 0.0).then(|| Trial {
            seen: bins.iter().map(seen).collect(),
            first: first.x,
            span,
            threshold: terms.threshold,
            life: terms.life,
        })
    }

    /// Bins with what each says of capacity at the first x, if the course is taken at this pace.
    fn said<'a>(&'a self, course: &'a Course, pace: f64) -> impl Iterator<Item = (&'a Seen, f64)> {
        let losses = course.losses(self.seen.iter().map(move |bin| pace * bin.part));
        self.seen.iter().zip(losses).map(|(bin, lost)| (bin, bin.ratio + lost))
    }

    /// A first look at a shape, if `loss` has faded from the first bin to the last: weights are fixed, so that one pass does.
    fn look(&self, course: &Course, loss: f64) -> Look {
        let before = NEW_STD_DEV.powi(-2);
        let (mut weights, mut sum, mut squares) = (before, before, before);
        for (bin, begun) in self.said(course, course.time_of(loss)) {
            weights += bin.weight;
            sum += bin.weight * begun;
            squares += bin.weight * begun * begun;
        }
        Look { begun: sum / weights, fit: -0.5 * (squares - sum * sum / weights) }
    }

    /// How well the shape explains the findings under Student's distribution, if `loss` has faded.
    fn of(&self, course: &Course, loss: f64) -> Tried {
        let pace = course.time_of(loss);
        let said: Vec<(f64, f64)> = self.said(course, pace).map(|(bin, begun)| (begun, bin.variance)).collect();
        let begun = level(&said, self.look(course, loss).begun);
        // One logarithm for all: at most 30 bins, each some 10^5 at worst.
        let misfit =
            said.iter().map(|(y, v)| 1.0 + (y - begun).powi(2) / (FREEDOM * v)).product::<f64>().min(f64::MAX).ln();
        let strange = (begun - 1.0) / NEW_STD_DEV;
        let lasts = self.span * course.time_of(begun - self.threshold) / pace;
        Tried {
            ln_pace: pace.ln(),
            fit: -0.5 * (FREEDOM + 1.0) * misfit
                - 0.5 * strange * strange
                - self.life.map_or(0.0, |life| life.strange(lasts)),
            reaches: self.first + lasts,
            now: begun - loss,
        }
    }
}

impl Life {
    /// How strange a length of life is: half the square of its distance in σ. None where it is over from the start, which the level tells.
    fn strange(self, lasts: f64) -> f64 {
        if lasts > 0.0 { 0.5 * ((lasts / self.likely).ln() / self.ln_std_dev).powi(2) } else { 0.0 }
    }
}

/// The level of values with variances under Student's distribution, and near to 1: the mean, weighed anew twice from a
/// level close by.
fn level(said: &[(f64, f64)], mut level: f64) -> f64 {
    let before = NEW_STD_DEV.powi(-2);
    for _ in 0..2 {
        let (mut weights, mut sum) = (before, before);
        for &(y, v) in said {
            let weight = (FREEDOM + 1.0) / (FREEDOM * v + (y - level).powi(2));
            weights += weight;
            sum += weight * y;
        }
        level = sum / weights;
    }
    level
}

/// Adds the ways of one shape: the scale of losses, closer where it matters, each weighed by its part of ln pace.
fn collect(trial: &Trial, course: &Course, tried: &[Tried], best: f64, ln_chance: f64, ways: &mut Vec<Way>) {
    let matters = |i: usize| tried.get(i).is_some_and(|t| t.fit > best - NEGLIGIBLE);
    let mut all: Vec<Tried> = Vec::new();
    for (i, (number, t)) in (0_u32..).zip(tried).enumerate() {
        all.push(*t);
        if matters(i) || matters(i + 1) {
            let between = (1..FINE).map(|k| f64::from(number) + f64::from(k) / f64::from(FINE));
            all.extend(between.take_while(|at| *at < f64::from(COARSE)).map(|at| trial.of(course, loss_of(at))));
        }
    }
    for (i, t) in all.iter().enumerate() {
        let before = all[i.saturating_sub(1)].ln_pace;
        let after = all[(i + 1).min(all.len() - 1)].ln_pace;
        let weight = t.fit - best + ln_chance + (0.5 * (after - before)).max(f64::MIN_POSITIVE).ln();
        if t.fit > best - NEGLIGIBLE && t.reaches.is_finite() {
            ways.push(Way { reaches: t.reaches, now: t.now, weight: weight.exp() });
        }
    }
}

fn quantiles(ways: &mut [Way]) -> Option<Forecast> {
    ways.sort_by(|a, b| a.reaches.total_cmp(&b.reaches));
    let total: f64 = ways.iter().map(|way| way.weight).sum();
    let at = |p: f64| {
        let mut sum = 0.0;
        let found = ways.iter().find(|way| {
            sum += way.weight;
            sum >= p * total
        });
        found.or(ways.last()).map(|way| way.reaches)
    };
    Some(Forecast {
        likely: at(0.5)?,
        range_90: Range { low: at(0.05)?, high: at(0.95)? },
        band: Band { low: at(0.025)?, high: at(0.975)? },
    })
}

fn now(ways: &[Way]) -> Estimate {
    let total: f64 = ways.iter().map(|way| way.weight).sum();
    let value = ways.iter().map(|way| way.weight * way.now).sum::<f64>() / total;
    let variance = ways.iter().map(|way| way.weight * (way.now - value).powi(2)).sum::<f64>() / total;
    Estimate { value, std_dev: variance.sqrt() }
}
