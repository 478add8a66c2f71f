//! Branches: the circuits on a bank, each a source or a load.

use std::str::FromStr;

/// Which way charge flows through a branch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// It puts charge in: generator, solar, shore power, regeneration.
    Source,
    /// It takes charge out: drive, inverter, converter.
    Load,
}

impl Role {
    /// The word in the configuration and the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Role::Source => "source",
            Role::Load => "load",
        }
    }
}

impl FromStr for Role {
    type Err = String;

    fn from_str(word: &str) -> Result<Role, String> {
        match word {
            "source" => Ok(Role::Source),
            "load" => Ok(Role::Load),
            _ => Err("expected \"source\" or \"load\"".to_owned()),
        }
    }
}

/// What finding passages needs to know of a branch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// It moves the boat: a load on it begins a passage.
    Drive,
    /// Shore power: charge from it means that the boat lies in a harbour.
    Shore,
    /// Any other.
    Other,
}

impl Purpose {
    /// The word in the configuration and the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Purpose::Drive => "drive",
            Purpose::Shore => "shore",
            Purpose::Other => "other",
        }
    }
}

impl FromStr for Purpose {
    type Err = String;

    fn from_str(word: &str) -> Result<Purpose, String> {
        match word {
            "drive" => Ok(Purpose::Drive),
            "shore" => Ok(Purpose::Shore),
            "other" => Ok(Purpose::Other),
            _ => Err("expected \"drive\", \"shore\" or \"other\"".to_owned()),
        }
    }
}

/// Where the current of a branch is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BranchChannel {
    /// Name of the device.
    pub device: String,
    /// Name of its channel, A.
    pub channel: String,
    /// True if the channel counts what charges the bank as negative.
    pub reversed: bool,
}

/// One circuit on a bank.
#[derive(Debug, Clone, PartialEq)]
pub struct Branch {
    /// Short name, unique within its bank.
    pub name: String,
    /// Name for people.
    pub title: String,
    /// The bank it is on.
    pub bank: String,
    /// Source or load.
    pub role: Role,
    /// What it is for.
    pub purpose: Purpose,
    /// Its own channel; `None` for the one that is computed as what the others leave of the bank's current.
    pub channel: Option<BranchChannel>,
    /// Errors of its sensor, 1 σ.
    pub sensor: super::SensorError,
}
