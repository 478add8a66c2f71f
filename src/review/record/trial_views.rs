//! Capacity tests as page, commands and files are given them. Ratios are 0..1; `null` where not known.

use serde::Serialize;
use utoipa::ToSchema;

use crate::review::values::BandView;

/// A capacity test.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TestView {
    /// Its number.
    pub id: i64,
    /// When it was started, RFC 3339.
    pub start: Option<String>,
    /// `running`, `ended`, `stopped` or `broken`.
    pub state: &'static str,
    /// Mean load, A.
    pub load_a: Option<f64>,
    /// Bank voltage at which it ends, V.
    pub cut_off_v: Option<f64>,
    /// Mean bank voltage of the last minute, V.
    pub voltage_v: Option<f64>,
    /// Charge taken out, Ah.
    pub charge_ah: Option<f64>,
    /// How long, hours.
    pub hours: Option<f64>,
    /// Temperature at the start, °C.
    pub temperature_c: Option<f64>,
    /// Capacity by rating, time-adjusted.
    pub time_adjusted: Option<f64>,
    /// Capacity by rating, rate-adjusted.
    pub rate_adjusted: Option<f64>,
    /// Capacity by rating, by the method that applies.
    pub capacity: Option<BandView>,
    /// What it says of the bank: `sound`, `degraded` or `replace`.
    pub verdict: Option<String>,
    /// For people.
    pub text: String,
}

/// Something at a date, in words.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct DueView {
    /// When, RFC 3339; `null` where no date can be named.
    pub time: Option<String>,
    /// For people.
    pub text: String,
}

/// What must be so before a test.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct PreconditionView {
    /// `full`, `rested` or `temperature`.
    pub name: &'static str,
    /// Whether it is met.
    pub met: bool,
    /// Whether it stands in the way of a test where it is not met.
    pub needed: bool,
    /// In words; where it is not met, what to do.
    pub text: String,
}

/// How the capacity test of a bank stands.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TrialView {
    /// What must be so before one is started; empty where nothing is stored of the bank.
    pub preconditions: Vec<PreconditionView>,
    /// The one that is running.
    pub running: Option<TestView>,
    /// Those that are over, the latest first.
    pub past: Vec<TestView>,
    /// When the next one is due.
    pub due: DueView,
}
