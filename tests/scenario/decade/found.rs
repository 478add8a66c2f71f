//! What the record holds of a decade.

use std::path::Path;

use sim::life::Stretch;
use taffrail::config::Config;
use taffrail::daemon::{self, Surveyed, Surveying};
use taffrail::health::{CapacityFinding, Finding, Onward, Watched};
use taffrail::quantity::{Estimate, UtcMs};
use taffrail::store::{Reader, Writer};
use tokio_util::sync::CancellationToken;

use super::BANK;
use super::produce::{Result, end, life_s};

/// What was found, in seconds since the start of the life.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Passages that have ended.
    pub passages: Vec<Stretch>,
    /// Capacity as all findings up to a moment tell it.
    pub capacity: Vec<Known>,
    /// Each finding of capacity, brought to the rated hours and 25 °C, Ah.
    pub findings: Vec<One>,
    /// When people were told of what, in words.
    pub told: Vec<(i64, String, String)>,
}

/// What is known of the capacity from a moment on.
#[derive(Debug, Clone, Copy)]
pub struct Known {
    /// From when on.
    pub t_s: i64,
    /// The capacity then, Ah.
    pub capacity_ah: Estimate,
    /// How it goes on.
    pub onward: Option<Onward>,
}

impl Known {
    /// The capacity at a later moment, Ah.
    pub fn at(&self, t_s: i64) -> Estimate {
        let later_s = (t_s - self.t_s) as f64;
        self.onward.map_or(self.capacity_ah, |onward| onward.carry(self.capacity_ah, later_s))
    }
}

/// A finding of capacity.
#[derive(Debug, Clone, Copy)]
pub struct One {
    /// Its end.
    pub t_s: i64,
    /// What it goes by.
    pub watched: Watched,
    /// What it says, Ah.
    pub rated_ah: Estimate,
    /// The same with what others tell of its errors, Ah.
    pub for_trend_ah: Estimate,
    /// Whether it counts.
    pub believed: bool,
    /// What all up to it say together, Ah.
    pub combined_ah: Option<Estimate>,
}

/// What is looked at.
pub fn surveying(config: &Config) -> Result<Surveying> {
    let bank = config.bank(BANK).ok_or("the bank is configured")?;
    Ok(Surveying::of(config, bank, config.devices[0].spec.name.clone()))
}

/// Looks at all that is stored of the bank and was not looked at yet.
pub fn survey(store_path: &Path, config: &Config, writer: &mut Writer) -> Result<Surveyed> {
    Ok(daemon::survey(store_path, &surveying(config)?, writer, &CancellationToken::new(), &mut |_| {})?)
}

/// Reads what is found of the bank.
pub fn read(store_path: &Path) -> Result<Found> {
    let reader = Reader::open(store_path)?;
    let begin = UtcMs(i64::MIN);
    let passages = reader
        .passages(BANK)?
        .into_iter()
        .filter_map(|passage| Some(Stretch { begin_s: life_s(passage.begin_utc?), end_s: life_s(passage.end_utc?) }));
    let (mut capacity, mut findings) = (Vec::new(), Vec::new());
    for stored in reader.findings(BANK, "capacity", begin, end())? {
        if let (Finding::Capacity(finding), Some(to)) = (stored.finding, stored.to_utc) {
            let t_s = life_s(to);
            let for_trend_ah = finding.for_trend_ah();
            let CapacityFinding { watched, rated_ah, believed, combined_ah, onward, .. } = finding;
            capacity.extend(combined_ah.map(|capacity_ah| Known { t_s, capacity_ah, onward }));
            findings.push(One { t_s, watched, rated_ah, for_trend_ah, believed, combined_ah });
        }
    }
    let events = reader.events(None, begin, end(), usize::MAX)?.into_iter().rev();
    let told = events.filter_map(|stored| Some((life_s(stored.first_utc?), stored.event.kind, stored.event.text)));
    Ok(Found { passages: passages.collect(), capacity, findings, told: told.collect() })
}

impl Found {
    /// When something of a kind was told whose words hold `word`.
    pub fn told_of(&self, kind: &str, word: &str) -> Vec<i64> {
        let of_kind = self.told.iter().filter(|(_, told, text)| told == kind && text.contains(word));
        of_kind.map(|(t_s, ..)| *t_s).collect()
    }
}
