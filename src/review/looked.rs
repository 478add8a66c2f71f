//! How far a bank's samples have been looked at.

use super::notes::duration;
use super::series::series_of;
use super::values::rfc3339;
use crate::quantity::UtcMs;
use crate::store::{Reader, Result, SeriesKind};

/// Samples may be this far ahead of the last look before it is said, s: the daemon looks each hour.
const BEHIND_SAID_S: f64 = 2.0 * 3600.0;

/// From when to when there are samples of a bank, and how far they have been looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Looked {
    /// The first sample and the last one that can be placed in time.
    pub reach: Option<(UtcMs, UtcMs)>,
    /// Whether anybody has looked at all.
    pub begun: bool,
    /// The last moment that was looked at, where that can be placed in time.
    pub to: Option<UtcMs>,
}

impl Looked {
    /// As the store has it.
    ///
    /// # Errors
    /// What the store reports.
    pub fn at(reader: &Reader, bank: &str) -> Result<Looked> {
        let mut reach: Option<(UtcMs, UtcMs)> = None;
        for series in series_of(reader, bank, SeriesKind::Device)? {
            if let Some((first, last)) = reader.reach(series.id)? {
                let (from, to) = reach.unwrap_or((first, last));
                reach = Some((from.min(first), to.max(last)));
            }
        }
        let state = reader.survey(bank)?;
        let timeline = reader.timeline()?;
        let to = state.as_ref().and_then(|state| timeline.utc(state.at)).map(|placed| placed.utc);
        Ok(Looked { reach, begun: state.is_some(), to })
    }

    /// The last moment that was looked at, RFC 3339.
    #[must_use]
    pub fn surveyed_to(&self) -> Option<String> {
        self.to.and_then(rfc3339)
    }

    /// What has to be said: nobody has looked yet, or not at the latest samples.
    #[must_use]
    pub fn note(&self) -> Option<String> {
        let Some((_, last)) = self.reach else {
            return Some("Nothing is stored of this bank whose time is known.".to_owned());
        };
        if !self.begun {
            return Some(
                "Nobody has looked at the stored samples yet: start the daemon, or run `taffrail survey`.".to_owned(),
            );
        }
        let behind_s = last.seconds_since(self.to?);
        (behind_s > BEHIND_SAID_S)
            .then(|| format!("The latest {} of samples have not been looked at yet.", duration(behind_s)))
    }
}
