//! Fade: what the findings of capacity tell of years behind and ahead.

use super::END_OF_LIFE;
use super::stored::Dated;
use super::thin::thinned;
use super::views::{EndOfLifeView, FadeView, KneeView, RatioView};
use crate::battery::Bank;
use crate::health::CapacityFinding;
use crate::health::fade::{Crossing, Fade, Forecast, Knee, Point, Terms, fade};
use crate::quantity::{Estimate, UtcMs};
use crate::review::values::{BandView, rfc3339};

/// Days of a year of the calendar.
pub(super) const YEAR_DAYS: f64 = 365.2425;
const DAY_MS: f64 = 86_400_000.0;
/// Points of the line ahead.
const AHEAD: u32 = 24;
/// A line is drawn no further ahead than this, days: twenty years.
const FURTHEST_DAYS: f64 = 20.0 * YEAR_DAYS;

/// What the findings say, with the time that x is counted from in days.
pub(super) struct Judged {
    pub(super) fade: Fade,
    /// x of the last finding.
    pub(super) last: f64,
    first: UtcMs,
}

/// Judges the findings that are believed, each by itself: the combined capacity would count them twice.
pub(super) fn judge(bank: &Bank, findings: &[Dated<CapacityFinding>]) -> Judged {
    let believed = || findings.iter().filter(|dated| dated.it.believed);
    let first = believed().map(|dated| dated.to).min().unwrap_or(UtcMs(0));
    let day = |time: UtcMs| time.seconds_since(first) / 86_400.0;
    let points: Vec<Point> = believed()
        .map(|dated| {
            let Estimate { value, std_dev } = dated.it.for_trend_ah();
            let rated_ah = bank.rated_capacity_ah;
            Point { x: day(dated.to), ratio: value / rated_ah, std_dev: std_dev / rated_ah }
        })
        .collect();
    let terms = Terms { threshold: END_OF_LIFE, ..Terms::of(bank.chemistry) };
    let last = points.iter().map(|point| point.x).fold(0.0, f64::max);
    Judged { fade: fade(&points, &terms), last, first }
}

impl Judged {
    /// x of a time.
    pub(super) fn days(&self, time: UtcMs) -> f64 {
        time.seconds_since(self.first) / 86_400.0
    }

    /// The time of an x; `None` beyond what a calendar has.
    fn time(&self, days: f64) -> Option<String> {
        #[expect(clippy::cast_possible_truncation, reason = "saturates, and what is beyond the calendar has no time")]
        let ms = (days * DAY_MS) as i64;
        rfc3339(UtcMs(self.first.0.saturating_add(ms)))
    }
}

/// The fade as page, commands and files are given it.
pub(super) fn fade_view(bank: &Bank, judged: &Judged, findings: &[Dated<CapacityFinding>]) -> FadeView {
    let fade = &judged.fade;
    let per_year = fade.trend.map(|trend| BandView {
        value: trend.slope * YEAR_DAYS,
        low: trend.slope_range.low * YEAR_DAYS,
        high: trend.slope_range.high * YEAR_DAYS,
    });
    let change = findings.iter().rev().find_map(|dated| dated.it.change_per_year());
    let now_per_year = change.map(|change| BandView::from(change).scaled(1.0 / bank.rated_capacity_ah));
    let forecast = fade.crossing.as_ref().ok().map(|crossing| forecast_of(*crossing));
    FadeView {
        earned: fade.crossing.is_ok(),
        text: words(judged),
        per_year: per_year.filter(|_| fade.crossing.is_ok()),
        now_per_year: now_per_year.filter(|_| fade.crossing.is_ok()),
        line: line(bank, findings),
        forecast: fade.now.zip(forecast).map_or_else(Vec::new, |(now, forecast)| ahead(judged, now, &forecast)),
        knee: fade.knee.map(|knee| KneeView { time: judged.time(knee.x), text: knee_words(&knee) }),
        end_of_life: forecast.map(|forecast| EndOfLifeView {
            earliest: judged.time(forecast.range_90.low),
            middle: judged.time(forecast.likely),
            latest: judged.time(forecast.range_90.high),
        }),
    }
}

pub(super) const fn forecast_of(crossing: Crossing) -> Forecast {
    match crossing {
        Crossing::Passed(forecast) | Crossing::Ahead(forecast) => forecast,
    }
}

fn words(judged: &Judged) -> String {
    let of_rating = |now: Option<Estimate>| {
        now.map_or_else(String::new, |now| {
            let BandView { value, low, high } = BandView::from(now).scaled(100.0);
            format!("At the last finding the bank held {value:.0} % of its rating ({low:.0} to {high:.0}). ")
        })
    };
    let end = 100.0 * END_OF_LIFE;
    match &judged.fade.crossing {
        Err(reason) => reason.words("days"),
        Ok(Crossing::Passed(_)) => {
            format!("{}It has probably fallen below {end:.0} % already.", of_rating(judged.fade.now))
        }
        Ok(Crossing::Ahead(forecast)) => {
            let years = |x: f64| ((x - judged.last) / YEAR_DAYS).max(0.0);
            format!(
                "{}It reaches {end:.0} % in {:.1} to {:.1} years from then (90 %), as likely before as after {:.1}.",
                of_rating(judged.fade.now),
                years(forecast.range_90.low),
                years(forecast.range_90.high),
                years(forecast.likely),
            )
        }
    }
}

fn knee_words(knee: &Knee) -> String {
    let per_year = |slope: Estimate| 100.0 * YEAR_DAYS * slope.value;
    format!(
        "Capacity fell by {:.1} % of the rating a year before, and by {:.1} % a year since.",
        0.0 - per_year(knee.before),
        0.0 - per_year(knee.after),
    )
}

/// The capacity as the findings told it together at each of them.
fn line(bank: &Bank, findings: &[Dated<CapacityFinding>]) -> Vec<RatioView> {
    let told = findings.iter().filter_map(|dated| Some((dated.to, dated.it.combined_ah?)));
    let points = told.map(|(time, combined)| {
        let BandView { value, low, high } = BandView::from(combined).scaled(1.0 / bank.rated_capacity_ah);
        RatioView { time: rfc3339(time), ratio: value, low, high }
    });
    thinned(points.collect(), |point: &RatioView| point.ratio)
}

/// Straight lines from what the bank holds now to the end of life: as likely, at the earliest and at the latest. How it
/// gets there between is not told by a date.
fn ahead(judged: &Judged, now: Estimate, forecast: &Forecast) -> Vec<RatioView> {
    let band = BandView::from(now);
    let to = forecast.range_90.high.min(judged.last + FURTHEST_DAYS);
    if to <= judged.last {
        return Vec::new();
    }
    let fall = |from: f64, reaches: f64, x: f64| {
        let way = (reaches - judged.last).max(1.0);
        from - (from - END_OF_LIFE).max(0.0) * (x - judged.last) / way
    };
    let points = (0..=AHEAD).map(|step| {
        let x = judged.last + (to - judged.last) * f64::from(step) / f64::from(AHEAD);
        let ratio = fall(band.value, forecast.likely, x);
        let (low, high) = (fall(band.low, forecast.range_90.low, x), fall(band.high, forecast.range_90.high, x));
        RatioView {
            time: judged.time(x),
            ratio: ratio.max(0.0),
            low: low.clamp(0.0, ratio.max(0.0)),
            high: high.max(ratio),
        }
    });
    points.collect()
}
