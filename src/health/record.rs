//! What is found and kept: one kind of record for each thing that is watched.

use serde::{Deserialize, Serialize};

use super::capacity::Onward;
use crate::quantity::{BandedSoc, Estimate, Moment};
use crate::reckoning::FixKind;

/// A fix, as far as health and passages need it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FixMark {
    /// When.
    pub at: Moment,
    /// What kind.
    pub kind: FixKind,
    /// The state of charge that was reckoned before it; `None` if nothing was known.
    pub before: Option<BandedSoc>,
    /// The state of charge after it.
    pub after: BandedSoc,
}

/// From one moment to another. They may lie in different boots; what happened between is what the bank lived.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct Span {
    /// First moment.
    pub from: Moment,
    /// Last moment.
    pub to: Moment,
}

/// What a capacity finding rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Watched {
    /// From full down to a rest or an empty fix and up to full again: the sensor's offset falls out.
    FullToFull,
    /// From full to a rest.
    FullToRest,
    /// From full to the cut-off.
    FullToEmpty,
    /// From a rest to another, where the rest-voltage curve is steep at both.
    RestToRest,
    /// A capacity test.
    Test,
}

impl Watched {
    /// The word in the store, the API and files.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Watched::FullToFull => "full-to-full",
            Watched::FullToRest => "full-to-rest",
            Watched::FullToEmpty => "full-to-empty",
            Watched::RestToRest => "rest-to-rest",
            Watched::Test => "test",
        }
    }
}

/// One measurement of capacity.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CapacityFinding {
    /// What it rests on.
    pub watched: Watched,
    /// Between which ends.
    pub span: Span,
    /// Charge that was taken out between the ends (≥ 0), Ah, as counted.
    pub charge_ah: f64,
    /// By how much the state of charge fell between the ends, ratio, with the error of both ends.
    pub soc_fall: Estimate,
    /// Mean load while charge was taken out, A (≥ 0).
    pub load_a: f64,
    /// Hours that this load would take to empty the bank.
    pub hours: f64,
    /// Mean temperature, °C; `None` where no sensor said.
    pub temperature_c: Option<f64>,
    /// As measured, Ah, at this load and temperature.
    pub raw_ah: Estimate,
    /// At the rated hours and 25 °C, Ah.
    pub rated_ah: Estimate,
    /// By which laws it was brought there, for people.
    pub law: String,
    /// The capacity at the rated hours and 25 °C, Ah, as all findings up to this one tell it.
    pub combined_ah: Option<Estimate>,
    /// What this finding tells by itself when what all before it tell of errors that findings share (the sensor's offset, losses of
    /// charging, curves) is taken off, Ah at the rated hours and 25 °C. That of the sensor's gain stays.
    #[serde(default)]
    pub corrected_ah: Option<Estimate>,
    /// How it goes on from there while nothing measures it.
    #[serde(default)]
    pub onward: Option<Onward>,
    /// False where it disagrees so much with the others that it was given next to no weight.
    pub believed: bool,
}

impl CapacityFinding {
    /// What a trend goes by, Ah.
    #[must_use]
    pub fn for_trend_ah(&self) -> Estimate {
        self.corrected_ah.unwrap_or(self.rated_ah)
    }

    /// The capacity some seconds after the finding, Ah, as all findings up to it tell it.
    #[must_use]
    pub fn combined_after(&self, seconds: f64) -> Option<Estimate> {
        let combined_ah = self.combined_ah?;
        Some(self.onward.map_or(combined_ah, |onward| onward.carry(combined_ah, seconds)))
    }

    /// Change of the capacity in a year as it was known with this finding, Ah; negative: it fades.
    #[must_use]
    pub fn change_per_year(&self) -> Option<Estimate> {
        let (combined_ah, fade) = (self.combined_ah?.value, self.onward?.fade);
        Some(Estimate { value: combined_ah * fade.value, std_dev: combined_ah * fade.std_dev })
    }
}

/// Within what time after a step of the load the voltage was read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reach {
    /// A second: metal, acid and contacts.
    Second,
    /// A minute: with what builds up in the electrodes.
    Minute,
}

/// Resistance on one day, from the load steps of that day in the upper half of charge. Below, dilution raises it in a way
/// that no preset knows; those steps are left out.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ResistanceDay {
    /// Beginning of the day, counted from the start of the boot.
    pub day: Moment,
    /// Within a second or a minute.
    pub reach: Reach,
    /// The monobloc, from 1; `None` for the whole bank.
    pub monobloc: Option<u32>,
    /// Steps that were used.
    pub steps: u32,
    /// Median as measured, Ω.
    pub ohm: Estimate,
    /// Median at 25 °C, Ω.
    pub normal_ohm: Estimate,
}

/// When monoblocs are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum BalanceState {
    /// After a while without current.
    Rest,
    /// Under load.
    Load,
    /// At the end of charge.
    ChargeEnd,
}

/// How one monobloc (or cell) stood against the mean of all on one day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BalanceDay {
    /// Beginning of the day, counted from the start of the boot.
    pub day: Moment,
    /// When they were compared.
    pub state: BalanceState,
    /// The monobloc, from 1.
    pub monobloc: u32,
    /// Mean of its voltage less the mean of all, V.
    pub deviation_v: f64,
    /// Minutes that were compared.
    pub minutes: u32,
    /// The bank's mean current meanwhile, A; positive charges.
    pub current_a: f64,
    /// Part of the time that a balancer's contact was closed, where a channel has it.
    pub balancing: Option<f64>,
    /// The deviation while that contact was open, V.
    #[serde(default)]
    pub contact_open_v: Option<f64>,
    /// The deviation while that contact was closed, V.
    #[serde(default)]
    pub contact_closed_v: Option<f64>,
    /// By how much less it holds than the others, as the discharges up to this day tell it: 0.05 for 5 % less. Under load
    /// only.
    #[serde(default)]
    pub shortfall: Option<Estimate>,
}

/// A way from full to full again.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FullLoop {
    /// From letting go of full to full again.
    pub span: Span,
    /// Charge put in, Ah, as counted.
    pub charge_in_ah: f64,
    /// Charge taken out, Ah, as counted.
    pub charge_out_ah: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// The lowest state of charge on the way.
    pub lowest_soc: Option<f64>,
    /// Coulombic efficiency: charge out over charge in, with the error of the sensor; `None` where the way was too shallow.
    pub efficiency: Option<Estimate>,
    /// Hours in which charge went in, from the deepest point of the way to its end.
    pub charging_h: f64,
    /// Part of the span that no samples cover.
    pub unseen: f64,
    /// What the bank's sensor reads at zero, A, as all ways up to this one tell it; positive: it reads too much charge.
    #[serde(default)]
    pub offset_a: Option<Estimate>,
}

/// How the bank was used on one day.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct UseDay {
    /// Beginning of the day, counted from the start of the boot.
    pub day: Moment,
    /// Seconds that samples cover.
    pub covered_s: f64,
    /// Charge put in, Ah.
    pub charge_in_ah: f64,
    /// Charge taken out, Ah.
    pub charge_out_ah: f64,
    /// Energy put in, Wh.
    pub energy_in_wh: f64,
    /// Energy taken out, Wh.
    pub energy_out_wh: f64,
    /// Lowest state of charge.
    pub lowest_soc: Option<f64>,
    /// Highest state of charge.
    pub highest_soc: Option<f64>,
    /// Seconds in each tenth of charge, the lowest first.
    pub soc_tenths_s: [f64; 10],
    /// Seconds below 0 °C, 0 to 10, 10 to 20, 20 to 30, 30 to 40, 40 °C and above.
    pub temperature_s: [f64; 6],
    /// Mean temperature, °C.
    pub temperature_c: Option<f64>,
    /// Seconds held full.
    pub full_s: f64,
    /// Load while nothing seemed to be switched on, A (≥ 0), where there was such a time.
    pub standing_a: Option<Estimate>,
    /// Charge put in below 0 °C, Ah.
    #[serde(default)]
    pub cold_charge_ah: f64,
    /// Current that belongs to no branch, A (positive charges), where all branches but the computed one are measured.
    pub unaccounted_a: Option<Estimate>,
}

/// A cycle of charge as rainflow counting (ASTM E1049-85) finds it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Cycle {
    /// Between which turning points.
    pub span: Span,
    /// Between which states of charge it swings, ratio.
    pub range: f64,
    /// Mean of the two, ratio.
    pub mean: f64,
    /// 1 for a whole cycle, 0.5 for a half.
    pub count: f64,
}

/// Anything that is found and kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Finding {
    /// A measurement of capacity.
    Capacity(CapacityFinding),
    /// Resistance on a day.
    Resistance(ResistanceDay),
    /// Balance on a day.
    Balance(BalanceDay),
    /// A way from full to full.
    Loop(FullLoop),
    /// Use on a day.
    Use(UseDay),
    /// A cycle.
    Cycle(Cycle),
}

impl Finding {
    /// The word that the store keeps it under.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Finding::Capacity(_) => "capacity",
            Finding::Resistance(_) => "resistance",
            Finding::Balance(_) => "balance",
            Finding::Loop(_) => "loop",
            Finding::Use(_) => "use",
            Finding::Cycle(_) => "cycle",
        }
    }

    /// Where it lies. A day begins and ends at its first moment.
    #[must_use]
    pub const fn span(&self) -> Span {
        match self {
            Finding::Capacity(CapacityFinding { span, .. })
            | Finding::Loop(FullLoop { span, .. })
            | Finding::Cycle(Cycle { span, .. }) => *span,
            Finding::Resistance(ResistanceDay { day, .. })
            | Finding::Balance(BalanceDay { day, .. })
            | Finding::Use(UseDay { day, .. }) => Span { from: *day, to: *day },
        }
    }
}
