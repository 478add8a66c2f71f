//! A knee: a place after which capacity falls clearly faster, by the evidence for two slopes against one.

use crate::battery::Range;
use crate::quantity::{Band, Estimate};

use super::forecast::FREEDOM;
use super::scatter::{Digest, smooth_at};
use super::theil_sen::count_f64;

/// Places that are tried.
const PLACES: u32 = 80;
/// Bins that must lie on either side.
const BESIDE: usize = 3;
/// Odds for two slopes from which a knee is called one: strong evidence in the words of R. E. Kass & A. E. Raftery,
/// J. Am. Stat. Assoc. 90 (1995) 773 (20 to 150; from memory).
const ODDS: f64 = 20.0;
/// Times by which the slope must have grown [assumed].
const STEEPER: f64 = 1.5;

/// Where fade grew faster.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Knee {
    /// Where, as likely before as after.
    pub x: f64,
    /// Where it lies 95 % of the time.
    pub band: Band,
    /// Slope before, parts of the rating for each unit of x; negative for fade.
    pub before: Estimate,
    /// Slope after.
    pub after: Estimate,
    /// Odds for two slopes against one.
    pub odds: f64,
}

/// A place tried: where, its weight, the slopes.
struct Tried {
    x: f64,
    weight: f64,
    before: Estimate,
    after: Estimate,
}

/// Values of all bins, weighed.
struct Weighed {
    x: Vec<f64>,
    y: Vec<f64>,
    weight: Vec<f64>,
}

impl Weighed {
    fn new(digest: &Digest) -> Weighed {
        let pairs: Vec<(f64, f64)> = digest.bins.iter().map(|b| (b.x, b.ratio)).collect();
        let weight = digest
            .bins
            .iter()
            .map(|b| {
                // Where the errors of neighbouring bins go together, the bins say less than their number.
                let variance = b.std_dev * b.std_dev * digest.bins_alike;
                let off = (b.ratio - smooth_at(&pairs, b.x)).powi(2);
                (FREEDOM + 1.0) / (FREEDOM * variance + off).max(f64::MIN_POSITIVE)
            })
            .collect();
        Weighed { x: pairs.iter().map(|p| p.0).collect(), y: pairs.iter().map(|p| p.1).collect(), weight }
    }

    fn dot(&self, a: &[f64], b: &[f64]) -> f64 {
        self.weight.iter().zip(a).zip(b).map(|((w, a), b)| w * a * b).sum()
    }

    /// What is left of values after the straight line through them, the slope of that line and its variance.
    fn beyond_line(&self, values: &[f64]) -> (Vec<f64>, f64, f64) {
        let total: f64 = self.weight.iter().sum();
        let mean = |v: &[f64]| self.weight.iter().zip(v).map(|(w, v)| w * v).sum::<f64>() / total;
        let (x_mean, value_mean) = (mean(&self.x), mean(values));
        let x: Vec<f64> = self.x.iter().map(|x| x - x_mean).collect();
        let size = self.dot(&x, &x);
        let slope = self.dot(&x, values) / size;
        (values.iter().zip(&x).map(|(v, x)| v - value_mean - slope * x).collect(), slope, size.recip())
    }

    fn at(&self, place: f64) -> Option<Tried> {
        let (y_left, slope, slope_variance) = self.beyond_line(&self.y);
        let hinge: Vec<f64> = self.x.iter().map(|x| (x - place).max(0.0)).collect();
        let (hinge_left, share, _) = self.beyond_line(&hinge);
        let size = self.dot(&hinge_left, &hinge_left);
        let bend = self.dot(&hinge_left, &y_left) / size;
        // Both parts are independent, since what is left of the hinge has nothing of the line.
        let slope_with =
            |part: f64| Estimate { value: slope + bend * part, std_dev: (slope_variance + part * part / size).sqrt() };
        // The evidence by Schwarz's approximation: one more number to fit costs the square root of the count.
        let gain = 0.5 * bend * bend * size - 0.5 * count_f64(self.x.len()).ln();
        (bend < 0.0 && size > 0.0).then(|| Tried {
            x: place,
            weight: gain.min(700.0).exp(),
            before: slope_with(-share),
            after: slope_with(1.0 - share),
        })
    }
}

/// The knee, if the findings speak clearly for one.
pub(super) fn knee(digest: &Digest) -> Option<Knee> {
    let bins = &digest.bins;
    if bins.len() < 2 * BESIDE + 2 {
        return None;
    }
    let inside = Range { low: bins[BESIDE - 1].x, high: bins[bins.len() - BESIDE].x };
    let weighed = Weighed::new(digest);
    let tried: Vec<Tried> = (0..=PLACES)
        .map(|i| inside.low + (inside.high - inside.low) * f64::from(i) / f64::from(PLACES))
        .filter_map(|place| weighed.at(place))
        .collect();
    let total: f64 = tried.iter().map(|t| t.weight).sum();
    let odds = total / f64::from(PLACES + 1);
    if odds.is_nan() || odds < ODDS {
        return None;
    }
    let quantile = |p: f64| {
        let mut sum = 0.0;
        let found = tried.iter().find(|t| {
            sum += t.weight;
            sum >= p * total
        });
        found.or(tried.last()).map(|t| t.x)
    };
    let [before, after] = [mixed(&tried, total, |t| t.before), mixed(&tried, total, |t| t.after)];
    let (x, half_step) = (quantile(0.5)?, 0.5 * (inside.high - inside.low) / f64::from(PLACES));
    let band = Band { low: quantile(0.025)? - half_step, high: quantile(0.975)? + half_step };
    // A slope that may have been none at all counts as one standard deviation of it.
    let surely_before = before.value.min(-before.std_dev);
    (after.value < STEEPER * surely_before).then_some(Knee { x, band, before, after, odds })
}

/// Mean and standard deviation over the places tried.
fn mixed(tried: &[Tried], total: f64, of: impl Fn(&Tried) -> Estimate) -> Estimate {
    let mean = |value: &dyn Fn(&Tried) -> f64| tried.iter().map(|t| t.weight * value(t)).sum::<f64>() / total;
    let value = mean(&|t| of(t).value);
    let variance = mean(&|t| of(t).std_dev.powi(2) + (of(t).value - value).powi(2));
    Estimate { value, std_dev: variance.sqrt() }
}
