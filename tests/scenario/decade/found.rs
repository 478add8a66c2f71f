//! What the record holds of a decade.

use std::path::Path;

use sim::life::Stretch;
use taffrail::config::Config;
use taffrail::daemon::{self, Surveyed, Surveying};
use taffrail::health::Finding;
use taffrail::quantity::{Estimate, UtcMs};
use taffrail::store::{Options, Reader, Writer};
use tokio_util::sync::CancellationToken;

use super::BANK;
use super::produce::{Result, end, life_s};

/// What was found, in seconds since the start of the life.
#[derive(Debug, Clone, Default)]
pub struct Found {
    /// Passages that have ended.
    pub passages: Vec<Stretch>,
    /// Capacity as all findings up to a moment tell it, Ah.
    pub capacity: Vec<(i64, Estimate)>,
    /// Each finding of capacity that was believed, brought to the rated hours and 25 °C, Ah.
    pub findings: Vec<(i64, Estimate)>,
    /// When people were told of what, in words.
    pub told: Vec<(i64, String, String)>,
}

/// Looks at all that is stored of the bank.
pub fn survey(store_path: &Path, config: &Config) -> Result<Surveyed> {
    let bank = config.bank(BANK).ok_or("the bank is configured")?;
    let work = Surveying::of(config, bank, config.devices[0].spec.name.clone());
    let mut writer = Writer::open(store_path, Options::default())?;
    let surveyed = daemon::survey(store_path, &work, &mut writer, &CancellationToken::new(), &mut |_| {})?;
    writer.close()?;
    Ok(surveyed)
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
            capacity.extend(finding.combined_ah.map(|combined| (life_s(to), combined)));
            findings.extend(finding.believed.then_some((life_s(to), finding.rated_ah)));
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
