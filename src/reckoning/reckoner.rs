//! The seam between a method of reckoning and everything that uses it.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::counter::Counter;
use crate::battery::Bank;
use crate::quantity::{Band, Reading};

/// How a bank is reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Coulomb counting with Peukert and temperature correction, and the full fix.
    Counter,
}

impl Method {
    /// The word on the command line and in the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
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
            "counter" => Ok(Method::Counter),
            "filter" => Err("the filter is not part of this version; use counter".into()),
            _ => Err("expected counter".into()),
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

/// A method at work on one bank.
#[derive(Debug, Clone)]
pub enum Reckoner {
    /// See [`Counter`].
    Counter(Counter),
}

impl Reckoner {
    /// Begins with a method and what is known of the start.
    #[must_use]
    pub fn begin(method: Method, bank: Bank, start: Start) -> Reckoner {
        match method {
            Method::Counter => Reckoner::Counter(Counter::new(bank, start)),
        }
    }

    /// Takes up a state saved by [`Self::save`], after some time off.
    ///
    /// # Errors
    /// [`ResumeError`] if the text is no such state.
    pub fn resume(bank: Bank, saved: &str, off: TimeOff) -> Result<Reckoner, ResumeError> {
        match Counter::resume(bank.clone(), saved) {
            Ok(mut counter) => {
                counter.run_on(off);
                counter.time_off(off);
                Ok(Reckoner::Counter(counter))
            }
            Err(cause) => Err(ResumeError { bank: bank.name, cause }),
        }
    }

    /// The whole state as JSON text, for a checkpoint.
    #[must_use]
    pub fn save(&self) -> String {
        match self {
            Reckoner::Counter(counter) => counter.save(),
        }
    }

    /// The method's word.
    #[must_use]
    pub const fn method(&self) -> Method {
        match self {
            Reckoner::Counter(_) => Method::Counter,
        }
    }

    /// The bank being reckoned.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        match self {
            Reckoner::Counter(counter) => counter.bank(),
        }
    }

    /// Takes the next reading; a fix that it brought is returned.
    pub fn step(&mut self, reading: &Reading) -> Option<Fix> {
        match self {
            Reckoner::Counter(counter) => counter.step(reading),
        }
    }

    /// Whether a charger holds the bank full since its last full fix: the fix is good until it lets go.
    #[must_use]
    pub const fn held_full(&self) -> bool {
        match self {
            Reckoner::Counter(counter) => counter.held_full(),
        }
    }

    /// The state as reckoned up to the last reading.
    #[must_use]
    pub fn report(&self) -> Reckoned {
        match self {
            Reckoner::Counter(counter) => counter.report(),
        }
    }
}
