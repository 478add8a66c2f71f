//! Use and wear as page, commands and files are given them. Ratios are 0..1; bands are 95 %; `null` where not known.

use serde::Serialize;
use utoipa::ToSchema;

use crate::review::values::BandView;

/// Hours in a range of temperature.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct TemperatureHoursView {
    /// From here, °C; `null` for all below.
    pub from_c: Option<f64>,
    /// To here, °C; `null` for all above.
    pub to_c: Option<f64>,
    /// Hours.
    pub hours: f64,
}

/// Use in a month of the boat's zone.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct MonthView {
    /// Such as `2026-05`.
    pub month: String,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Lowest state of charge.
    pub lowest_soc: Option<f64>,
    /// Days on which the bank was full.
    pub full_days: u32,
}

/// Use.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct UseView {
    /// Days with samples, counted by what samples cover.
    pub days: f64,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Charge put in, Ah.
    pub charge_in_ah: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// When it was last full, RFC 3339.
    pub last_full: Option<String>,
    /// Days from then to the last look.
    pub days_since_full: Option<f64>,
    /// Usual hours of charging until full, from the last time that more went out than in.
    pub charging_h: Option<f64>,
    /// Coulombic efficiency: charge out over charge in between two times full.
    pub efficiency: Option<BandView>,
    /// Load while nothing seemed to be switched on, A.
    pub standing_a: Option<BandView>,
    /// Load that no branch accounts for, A.
    pub unaccounted_a: Option<BandView>,
    /// Part of the time in each tenth of charge, the lowest first; all 0 where nothing is known.
    pub soc_tenths: [f64; 10],
    /// Hours by temperature.
    pub temperature_h: Vec<TemperatureHoursView>,
    /// By month, the earliest first.
    pub by_month: Vec<MonthView>,
}

/// Cycles.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct CyclesView {
    /// Equivalent full cycles: half of all charge moved, in and out, by rated capacity.
    pub equivalent_full: f64,
    /// Cycles that were counted; a half counts half.
    pub counted: f64,
    /// By depth in tenths, the shallowest first.
    pub by_depth: [f64; 10],
}

/// Years from to.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct YearsView {
    /// At least.
    pub low: f64,
    /// At most.
    pub high: f64,
}

/// Wear by rules of thumb, beside what was measured.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct StressView {
    /// Part of its life that is used up by the rules; `null` where nothing was counted.
    pub used: Option<f64>,
    /// Years left by the rules, at the use so far.
    pub remaining_years: Option<YearsView>,
    /// Years left by the fade that was measured.
    pub measured_remaining_years: Option<YearsView>,
    /// Which of both to believe: `measured`, `stress` or `neither`.
    pub believe: &'static str,
    /// For people.
    pub text: String,
    /// The rules, with their sources.
    pub rules: Vec<String>,
}

/// Energy for a nautical mile in a range of speed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct SpeedBinView {
    /// From here, knots.
    pub from_kn: f64,
    /// To here, knots.
    pub to_kn: f64,
    /// Energy for a nautical mile, Wh.
    pub wh_per_nm: BandView,
    /// Minutes under way that this rests on.
    pub minutes: f64,
}

/// Miles left before the reserve at a speed.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReachLeftView {
    /// Speed over ground, knots.
    pub speed_kn: f64,
    /// At least, nautical miles.
    pub low: f64,
    /// At most, nautical miles.
    pub high: f64,
}

/// Energy against speed, and the reach that is left.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct ReachView {
    /// By speed.
    pub bins: Vec<SpeedBinView>,
    /// Miles left before the reserve.
    pub left_nm: Vec<ReachLeftView>,
}
