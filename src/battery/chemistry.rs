//! The chemistries that a bank can have.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use super::preset::{self, Preset};

/// Cell chemistry of a bank, as the configuration names it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Chemistry {
    /// Valve-regulated lead with carbon in the negative plate.
    LeadCarbon,
    /// Valve-regulated lead, absorbed glass mat.
    Agm,
    /// Valve-regulated lead, gelled acid.
    Gel,
    /// Vented lead with free acid.
    Flooded,
    /// Lithium iron phosphate.
    Lfp,
    /// Lithium nickel manganese cobalt oxide.
    Nmc,
}

/// What the chemistries of a family share: how they charge and how cold takes their capacity.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Family {
    /// Lead and sulphuric acid.
    Lead,
    /// Lithium ion.
    Lithium,
}

impl Chemistry {
    /// All of them, in the order in which help texts list them.
    pub const ALL: [Chemistry; 6] =
        [Chemistry::LeadCarbon, Chemistry::Agm, Chemistry::Gel, Chemistry::Flooded, Chemistry::Lfp, Chemistry::Nmc];

    /// The word in the configuration and the API.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Chemistry::LeadCarbon => "lead-carbon",
            Chemistry::Agm => "agm",
            Chemistry::Gel => "gel",
            Chemistry::Flooded => "flooded",
            Chemistry::Lfp => "lfp",
            Chemistry::Nmc => "nmc",
        }
    }

    /// Lead or lithium.
    #[must_use]
    pub const fn family(self) -> Family {
        match self {
            Chemistry::LeadCarbon | Chemistry::Agm | Chemistry::Gel | Chemistry::Flooded => Family::Lead,
            Chemistry::Lfp | Chemistry::Nmc => Family::Lithium,
        }
    }

    /// The constants that stand in for what the bank description leaves out.
    #[must_use]
    pub const fn preset(self) -> &'static Preset {
        match self {
            Chemistry::LeadCarbon => &preset::LEAD_CARBON,
            Chemistry::Agm => &preset::AGM,
            Chemistry::Gel => &preset::GEL,
            Chemistry::Flooded => &preset::FLOODED,
            Chemistry::Lfp => &preset::LFP,
            Chemistry::Nmc => &preset::NMC,
        }
    }
}

impl fmt::Display for Chemistry {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Chemistry {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL.into_iter().find(|c| c.word() == text).ok_or_else(|| {
            let words: Vec<_> = Self::ALL.iter().map(|c| c.word()).collect();
            format!("one of {}", words.join(", "))
        })
    }
}
