//! The health record as page, commands and files are given it. Ratios are 0..1; bands are 95 %; `null` where not known.

use serde::Serialize;
use utoipa::ToSchema;

use super::trial_views::{DueView, TestView};
use super::use_views::{CyclesView, ReachView, StressView, UseView};
use crate::review::values::BandView;

/// A ratio of the rated capacity at a time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RatioView {
    /// When, RFC 3339.
    pub time: Option<String>,
    /// Capacity by rating.
    pub ratio: f64,
    /// Lower edge of its band.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

/// The capacity as all findings so far tell it, at the rated hours and 25 °C.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CapacityNowView {
    /// Capacity, Ah.
    pub value: f64,
    /// Lower edge of its band, Ah.
    pub low: f64,
    /// Upper edge, Ah.
    pub high: f64,
    /// Capacity by rating.
    pub ratio: f64,
    /// Lower edge of its band.
    pub ratio_low: f64,
    /// Upper edge.
    pub ratio_high: f64,
    /// When the finding was made that it was last brought up to date by, RFC 3339.
    pub time: Option<String>,
}

/// One measurement of capacity.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FindingView {
    /// When it was complete, RFC 3339.
    pub time: Option<String>,
    /// When it began, RFC 3339.
    pub from: Option<String>,
    /// What it rests on: `full-to-full`, `full-to-rest`, `full-to-empty`, `rest-to-rest` or `test`.
    pub watched: &'static str,
    /// Charge taken out between its ends, Ah, as counted.
    pub charge_ah: f64,
    /// Mean load, A.
    pub load_a: f64,
    /// Mean temperature, °C.
    pub temperature_c: Option<f64>,
    /// As measured, Ah, at this load and temperature.
    pub raw_ah: BandView,
    /// At the rated hours and 25 °C, Ah.
    pub rated_ah: BandView,
    /// The same with what other findings tell of its errors taken off (the sensor's offset, charging losses, the rest-voltage curve), Ah.
    pub corrected_ah: BandView,
    /// The capacity as all findings up to this one tell it, Ah.
    pub combined_ah: Option<BandView>,
    /// False where it disagrees so much with the others that it has next to no weight.
    pub believed: bool,
    /// By which laws it was brought to the rated hours and 25 °C.
    pub law: String,
}

/// Capacity.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CapacityView {
    /// The capacity now; `null` before the first finding.
    pub latest: Option<CapacityNowView>,
    /// All findings, the earliest first.
    pub findings: Vec<FindingView>,
}

/// Where the fade grew faster.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct KneeView {
    /// When, RFC 3339.
    pub time: Option<String>,
    /// For people.
    pub text: String,
}

/// When the end of life is reached, as a 90 % range of dates.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct EndOfLifeView {
    /// The earliest, RFC 3339.
    pub earliest: Option<String>,
    /// As likely before as after, RFC 3339; `null` if beyond what can be told.
    pub middle: Option<String>,
    /// The latest, RFC 3339; `null` if beyond what can be told.
    pub latest: Option<String>,
}

/// Fade.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct FadeView {
    /// Whether there is enough to tell a trend.
    pub earned: bool,
    /// In words: the fade, or why there is not enough yet.
    pub text: String,
    /// Change of capacity by rating in a year; negative: it fades.
    pub per_year: Option<BandView>,
    /// The same at present, as the last finding leaves it: less sure, but not the mean of years in which it was another.
    pub now_per_year: Option<BandView>,
    /// The trend behind.
    pub line: Vec<RatioView>,
    /// The trend ahead.
    pub forecast: Vec<RatioView>,
    /// Where the fade grew faster.
    pub knee: Option<KneeView>,
    /// When the end of life is reached.
    pub end_of_life: Option<EndOfLifeView>,
}

/// Resistance on a day, or over a few days.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ResistancePointView {
    /// When, RFC 3339.
    pub time: Option<String>,
    /// As measured, Ω.
    pub ohm: f64,
    /// At 25 °C, Ω.
    pub normal_ohm: f64,
    /// Steps of the load that it rests on.
    pub steps: u32,
}

/// Resistance over time.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ResistanceView {
    /// Within what time after a step: `second` or `minute`.
    pub reach: &'static str,
    /// The monobloc, from 1; `null` for the whole bank.
    pub monobloc: Option<u32>,
    /// By days, the earliest first; of a long record, medians over some days.
    pub points: Vec<ResistancePointView>,
    /// Change in a year, as a ratio of its median.
    pub per_year: Option<BandView>,
    /// For people.
    pub text: String,
}

/// How a monobloc stands against the mean of all.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DeviationView {
    /// When they were compared: `rest`, `load` or `charge-end`.
    pub state: &'static str,
    /// The monobloc, from 1.
    pub monobloc: u32,
    /// Its voltage less the mean of all, V.
    pub deviation_v: f64,
    /// The same while the contact of a balancer was open, V; `null` where no channel has it.
    pub contact_open_v: Option<f64>,
    /// The same while it was closed, V.
    pub contact_closed_v: Option<f64>,
    /// Days that this rests on.
    pub days: u32,
}

/// How far apart the monoblocs stand.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SpreadView {
    /// When, RFC 3339.
    pub time: Option<String>,
    /// When in the cycle: `rest`, `load` or `charge-end`.
    pub state: &'static str,
    /// The highest less the lowest, V.
    pub spread_v: f64,
}

/// A monobloc that holds less than the others.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct WeakView {
    /// The monobloc, from 1.
    pub monobloc: u32,
    /// How much less, as a ratio of the mean.
    pub shortfall: BandView,
    /// For people.
    pub text: String,
}

/// Balance.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct BalanceView {
    /// Monoblocs or cells that are measured by themselves.
    pub monoblocs: u32,
    /// How each stands now.
    pub now: Vec<DeviationView>,
    /// How far apart they stood, the earliest first; of a long record, medians over some days.
    pub spread: Vec<SpreadView>,
    /// The weak one.
    pub weak: Option<WeakView>,
    /// For people.
    pub text: String,
}

/// What to do, and why.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AdviceView {
    /// Name of the rule.
    pub rule: String,
    /// `warning`, `caution` or `note`.
    pub priority: String,
    /// In a few words.
    pub title: String,
    /// Why it matters.
    pub reason: String,
    /// What was seen.
    pub evidence: String,
    /// What to do.
    pub action: String,
    /// Where the rule comes from.
    pub source: String,
}

/// Air that carries off the hydrogen of a lead bank: information for its builder.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct VentilationView {
    /// Air, m³/h.
    pub air_m3_h: f64,
    /// Area of each opening for natural ventilation, cm².
    pub area_cm2: f64,
    /// For people, with its caution.
    pub text: String,
}

/// The health record of a bank.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct RecordView {
    /// Name of the bank.
    pub bank: String,
    /// Its name for people.
    pub title: String,
    /// Cell chemistry.
    pub chemistry: &'static str,
    /// Capacity at the rated hours and 25 °C, Ah.
    pub rated_capacity_ah: f64,
    /// Hours of the rating.
    pub rated_hours: f64,
    /// Capacity by rating at which life ends.
    pub end_of_life: f64,
    /// When its first sample was taken, RFC 3339.
    pub first: Option<String>,
    /// Up to when samples were looked at, RFC 3339.
    pub surveyed_to: Option<String>,
    /// What has to be said beside all figures.
    pub notes: Vec<String>,
    /// Capacity.
    pub capacity: CapacityView,
    /// Fade.
    pub fade: FadeView,
    /// Capacity tests, the latest first.
    pub tests: Vec<TestView>,
    /// When the next one is due.
    pub test_due: DueView,
    /// Resistance.
    pub resistance: Vec<ResistanceView>,
    /// Balance.
    pub balance: BalanceView,
    /// Use.
    #[serde(rename = "use")]
    pub usage: UseView,
    /// Cycles.
    pub cycles: CyclesView,
    /// Wear by rules of thumb.
    pub stress: StressView,
    /// Energy against speed; `null` where no channel has the speed.
    pub reach: Option<ReachView>,
    /// What to do.
    pub advice: Vec<AdviceView>,
    /// Air for a lead bank; `null` for lithium.
    pub ventilation: Option<VentilationView>,
    /// What to mind about batteries.
    pub cautions: Vec<&'static str>,
}
