//! The terms of reckoning: methods, starts, fixes, states, suspicions.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::quantity::{Band, Estimate};

/// Intervals up to this are bridged by the mean of both ends, s.
pub(super) const BRIDGED_S: f64 = 900.0;
/// Intervals up to this hide no load worth the name, s: sampling at its ordinary rhythm (assumed).
pub(super) const UNSEEN_AFTER_S: f64 = 10.0;
/// Currents below this are rest, A per Ah of rated capacity: the 50 h rate, a house asleep (assumed).
pub const REST_RATE: f64 = 0.02;
/// Temperature where no sensor has said anything, °C: the reference, so that nothing is corrected.
pub(super) const REFERENCE_C: f64 = 25.0;
/// 1 σ of a stated start ("about 80 %"), ratio (assumed).
const STATED_STD_DEV: f64 = 0.025;
/// 1 σ of a uniform distribution over 0..1: 1/√12.
const UNKNOWN_STD_DEV: f64 = 0.288_675;

/// How a bank is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// A filter on charge, wells, sensor, efficiency, capacity and voltage; what the page shows.
    Filter,
    /// Coulomb counting with Peukert and temperature correction, and the full fix: the yardstick.
    Counter,
}

impl Method {
    /// The word on the command line and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Method::Filter => "filter",
            Method::Counter => "counter",
        }
    }
}

impl fmt::Display for Method {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Method {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "filter" => Ok(Method::Filter),
            "counter" => Ok(Method::Counter),
            _ => Err("expected filter or counter".into()),
        }
    }
}

/// What is known of the state of charge when reckoning begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Start {
    /// Just fully charged.
    Full,
    /// Nothing: anywhere between empty and full.
    Unknown,
    /// Somebody says so, 0..1.
    At(f64),
}

impl Start {
    /// The state of charge that a start stands for; `full_std_dev` is that of a full bank (1 σ, ratio).
    #[must_use]
    pub const fn estimate(self, full_std_dev: f64) -> Estimate {
        match self {
            Start::Full => Estimate { value: 1.0, std_dev: full_std_dev },
            Start::Unknown => Estimate { value: 0.5, std_dev: UNKNOWN_STD_DEV },
            Start::At(soc) => Estimate { value: soc, std_dev: STATED_STD_DEV },
        }
    }
}

impl FromStr for Start {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        match text {
            "full" => Ok(Start::Full),
            "unknown" => Ok(Start::Unknown),
            other => match other.parse::<f64>() {
                Ok(soc) if (0.0..=1.0).contains(&soc) => Ok(Start::At(soc)),
                _ => Err("expected full, unknown, or a ratio from 0 to 1 such as 0.80".into()),
            },
        }
    }
}

/// Kinds of independent knowledge that correct the reckoning.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum FixKind {
    /// The charger finished: voltage held, tail current low.
    Full,
    /// A long rest on a steep part of the curve.
    Rest,
    /// The cut-off at a known rate.
    Empty,
    /// Somebody knows.
    Hand,
}

impl FixKind {
    const ALL: [FixKind; 4] = [FixKind::Full, FixKind::Rest, FixKind::Empty, FixKind::Hand];

    /// The kind that a word stands for.
    #[must_use]
    pub fn of_word(word: &str) -> Option<FixKind> {
        Self::ALL.into_iter().find(|kind| kind.word() == word)
    }

    /// The word in the store and the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            FixKind::Full => "full",
            FixKind::Rest => "rest",
            FixKind::Empty => "empty",
            FixKind::Hand => "hand",
        }
    }
}

/// A fix: the reckoning before and after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// What kind of knowledge it was.
    pub kind: FixKind,
    /// The reckoning just before.
    pub before: Reckoned,
    /// The reckoning from now on.
    pub after: Reckoned,
}

/// The state of a bank as reckoned.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reckoned {
    /// State of charge, 0..1.
    pub soc: f64,
    /// Its 95 % band, within 0..1.
    pub soc_band: Band,
    /// Charge really held by the plain count, Ah: what endurance is reckoned from.
    pub held_ah: f64,
    /// Its 95 % band, Ah.
    pub held_band_ah: Band,
    /// Capacity at the rated hours and 25 °C, Ah.
    pub capacity_ah: f64,
    /// Its 95 % band, Ah.
    pub capacity_band_ah: Band,
    /// Net charge drawn since the bank was last full, Ah; `None` if it has not been seen full.
    pub drawn_since_full_ah: Option<f64>,
    /// Recent mean current, A, positive charging; `None` before two readings.
    pub mean_current_a: Option<f64>,
    /// Temperature last reported, °C.
    pub temperature_c: Option<f64>,
    /// Whether a fix or a stated start is behind the count.
    pub start_known: bool,
    /// Charge bound for now by what was drawn lately, and how soon it comes back.
    pub bound: Bound,
    /// What was learned of bank and sensor; `None` for a method that learns nothing.
    pub learned: Option<Learned>,
}

/// Charge that is held but out of reach of the terminals until a rest gives it back (the gap between the two wells).
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Bound {
    /// Charge out of reach now, Ah; negative while charging.
    pub charge_ah: f64,
    /// 1 σ of it, Ah.
    pub std_dev_ah: f64,
    /// Rate at which it comes back, 1/s; 0 where the method knows no wells.
    pub relax_per_s: f64,
    /// Charge in the wells below the rated empty, Ah: what a gentler load than the rated one would reach.
    pub below_ah: f64,
}

/// What reckoning learned on the way, each with its 1 σ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Learned {
    /// Capacity at the rated hours and 25 °C, Ah.
    pub capacity_ah: Estimate,
    /// Coulombic efficiency of a whole recharge, ratio.
    pub charge_efficiency: Estimate,
    /// What the current sensor reads at zero current, A; positive: it reads too much charge.
    pub sensor_offset_a: Estimate,
    /// Internal resistance of the bank at 25 °C, Ω.
    pub resistance_25_ohm: Estimate,
    /// Rest voltage of the bank against its preset curve at the present charge, V.
    pub ocv_shift_v: Estimate,
}

/// Something about the bank's description or its sensors that the readings contradict.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub enum Suspicion {
    /// The voltage falls while charge is said to go in, and rises while it is said to come out.
    SensorReversed,
    /// The capacity must be far from the description.
    CapacityFarOff {
        /// Capacity as it seems, in parts of the rated one.
        ratio: f64,
    },
    /// The voltage stands still while the current moves.
    VoltageStuck,
    /// The voltage does not fit the charge whatever is learned; it is not used until it does.
    VoltageAstray,
}

/// How long nobody was looking.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TimeOff {
    /// Known to the second: the same boot, or two clocks that can be believed.
    Known {
        /// Seconds, not negative.
        seconds: f64,
    },
    /// The clock says so, nothing vouches for it.
    Claimed {
        /// Seconds by the clock; may be far too small.
        seconds: f64,
    },
    /// No telling.
    Unknown,
}

impl TimeOff {
    /// The least off-time that must be allowed for when only an unvouched clock tells, s: boats lie unattended for at
    /// least a night (assumed).
    const CLAIMED_AT_LEAST_S: f64 = 86_400.0;
    /// Allowed for when nothing tells, s: a month (assumed; it empties the bank's lower edge at the default standing load).
    const UNKNOWN_S: f64 = 30.0 * 86_400.0;

    /// Seconds to be allowed for.
    #[must_use]
    pub fn allowance_s(self) -> f64 {
        match self {
            TimeOff::Known { seconds } => seconds.max(0.0),
            TimeOff::Claimed { seconds } => seconds.max(Self::CLAIMED_AT_LEAST_S),
            TimeOff::Unknown => Self::UNKNOWN_S,
        }
    }
}

/// Why the sensor's zero cannot be set by hand.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum ZeroRefused {
    /// No reading yet.
    #[error("no reading has come yet; nothing was changed")]
    NoReading,
    /// The method knows no zero.
    #[error("the counter knows no zero of the sensor; nothing was changed")]
    NotLearned,
    /// The sensor reads more than any offset.
    #[error(
        "the sensor reads {reads_a:.2} A, which is more than the {most_a:.2} A that an offset can be: something is drawing \
         or charging, or the sensor is broken; nothing was changed"
    )]
    TooMuch {
        /// What it reads, A.
        reads_a: f64,
        /// The greatest offset that is believed, A.
        most_a: f64,
    },
}

/// A saved state that cannot be taken up again.
#[derive(Debug, thiserror::Error)]
#[error(
    "the saved reckoning of bank \"{bank}\" cannot be read ({cause}); reckoning starts anew with an unknown charge"
)]
pub struct ResumeError {
    /// Which bank.
    pub bank: String,
    /// Why not.
    #[source]
    pub cause: serde_json::Error,
}
