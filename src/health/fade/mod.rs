//! Fade: how capacity fell so far, whether it has begun to fall faster, and when it reaches the end of life.
//!
//! Three answers, each from the same findings: the trend (Theil-Sen, robust against outliers), a knee (two slopes against one,
//! by evidence), and a forecast. The forecast is Bayesian: a family of shapes (`shape.rs`) that is held likely beforehand, each
//! weighed by how well it explains the findings under errors with heavy tails. It holds a knee that is still to come to be likely, because
//! cells that were followed to their end have one; a straight line through the first 60 % of their life is out by several lives.
//! x is the caller's: days, cycles or ampere-hours. Nothing here knows which.

mod forecast;
mod knee;
mod scatter;
mod shape;
mod theil_sen;
mod thin;
mod words;

use super::stress::CalendarLife;
use crate::battery::Chemistry;
use crate::quantity::Estimate;

pub use forecast::Forecast;
pub use knee::Knee;
pub use shape::{Population, Prior};
pub use theil_sen::{Line, theil_sen};
pub use words::NotYet;

/// Findings that are needed [assumed].
const LEAST_POINTS: usize = 6;
/// A range whose far end is so many times as far away as its near end says nothing of use [assumed].
const WIDEST: f64 = 20.0;

/// A finding of capacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// When: days, cycles, or whatever the caller counts.
    pub x: f64,
    /// Capacity over the rating.
    pub ratio: f64,
    /// 1 σ of it.
    pub std_dev: f64,
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Capacity over the rating at which life ends.
    pub threshold: f64,
    /// Span of x that findings must cover before a forecast is made.
    pub least_span: f64,
    /// What is held likely of the shape beforehand.
    pub prior: Prior,
    /// And of the length of life, counted from the first finding; `None`: every length is as likely as the double of it.
    pub life: Option<Life>,
}

/// How long a life is held to be before a bank has said anything: normal in the logarithm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Life {
    /// As likely shorter as longer, in x.
    pub likely: f64,
    /// 1 σ of its logarithm.
    pub ln_std_dev: f64,
}

/// Days of a year.
const YEAR_DAYS: f64 = 365.25;
/// 1 σ of the logarithm of a life by the calendar: one bank in twenty serves for less than 0.37 of it, one for more than 2.7 times it
/// (assumed).
const LN_YEARS_STD_DEV: f64 = 0.6;

impl Terms {
    /// For x in days: end of life at 80 % of the rating, findings over half a year [assumed], the usual prior.
    #[must_use]
    pub const fn days() -> Terms {
        Terms { threshold: 0.80, least_span: 182.0, prior: Prior::USUAL, life: None }
    }

    /// The same, and how long banks of that chemistry last by the calendar.
    #[must_use]
    pub fn of(chemistry: Chemistry) -> Terms {
        let years = CalendarLife::of(chemistry).years_at_25_c;
        let life = Life { likely: years * YEAR_DAYS, ln_std_dev: LN_YEARS_STD_DEV };
        Terms { life: Some(life), ..Terms::days() }
    }
}

/// What the findings say.
#[derive(Debug, Clone, PartialEq)]
pub struct Fade {
    /// Capacity over the rating by the last findings (those of the last thirtieth of the span); `None` for too few findings.
    pub now: Option<Estimate>,
    /// The trend over all findings, with the 95 % range of its slope.
    pub trend: Option<Line>,
    /// Where fade grew faster, if it clearly did.
    pub knee: Option<Knee>,
    /// When the threshold is reached.
    pub crossing: Result<Crossing, NotYet>,
}

/// When capacity reaches the threshold.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Crossing {
    /// It probably has.
    Passed(Forecast),
    /// It will.
    Ahead(Forecast),
}

/// Judges findings in any order. What is not finite is left out.
#[must_use]
pub fn fade(points: &[Point], terms: &Terms) -> Fade {
    let digest = scatter::digest(points);
    let (Some(first), Some(last)) = (digest.bins.first(), digest.bins.last()) else {
        return Fade { now: None, trend: None, knee: None, crossing: Err(NotYet::Few { have: 0, need: LEAST_POINTS }) };
    };
    if digest.pairs.len() < LEAST_POINTS {
        let crossing = Err(NotYet::Few { have: digest.pairs.len(), need: LEAST_POINTS });
        return Fade { now: None, trend: None, knee: None, crossing };
    }
    let seen = forecast::forecast(&digest.bins, terms);
    let crossing = match seen {
        None => Err(NotYet::Unlike),
        _ if last.x - first.x < terms.least_span => {
            Err(NotYet::Short { have: last.x - first.x, need: terms.least_span })
        }
        Some((forecast, _)) => earned(forecast, last.x, last.x - first.x),
    };
    Fade {
        now: seen.map(|(_, now)| now),
        trend: theil_sen::theil_sen_weighed(&digest.pairs, &digest.stated, 0.95, digest.run),
        knee: knee::knee(&digest),
        crossing,
    }
}

/// A forecast, unless its range is too wide to be of use.
fn earned(forecast: Forecast, now: f64, span: f64) -> Result<Crossing, NotYet> {
    if forecast.likely <= now {
        return Ok(Crossing::Passed(forecast));
    }
    let near = (forecast.range_90.low - now).max(span / WIDEST);
    if forecast.range_90.high - now > WIDEST * near {
        return Err(NotYet::Wide { from: forecast.range_90.low, to: forecast.range_90.high });
    }
    Ok(Crossing::Ahead(forecast))
}

#[cfg(test)]
mod tests;
