//! What is counted on a device since the daemon started. Counters stop at their largest value.

use super::frame::BadLine;

/// Counters of one device.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Tally {
    /// Bytes read, without those discarded at an opening because they were older than it.
    pub bytes: u64,
    /// Complete lines, blank and bad ones included; overlong and partial ones not.
    pub lines: u64,
    /// Lines with nothing in them; not bad.
    pub blank: u64,
    /// Lines that gave a sample.
    pub samples: u64,
    /// Samples that found no room downstream and were dropped.
    pub lost: u64,
    /// Lines that were refused, by reason.
    pub bad: BadLines,
    /// Lines dropped because they were longer than the cap.
    pub overlong: u64,
    /// Pieces of lines dropped at an opening or a closing.
    pub partial: u64,
    /// Values that were refused, per channel in the order of the channels.
    pub refused: Vec<Refused>,
    /// Attempts to open the port.
    pub attempts: u64,
    /// Attempts that succeeded.
    pub opened: u64,
}

/// Refused values of one channel.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Refused {
    /// No finite number.
    pub unreadable: u64,
    /// A number outside the channel's limit.
    pub out_of_range: u64,
}

/// Refused lines by reason.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct BadLines([u64; BadLine::ALL.len()]);

impl BadLines {
    /// Lines refused for this reason.
    #[must_use]
    pub fn of(&self, reason: BadLine) -> u64 {
        self.0[reason as usize]
    }

    /// Lines refused for any reason.
    #[must_use]
    pub fn total(&self) -> u64 {
        self.0.iter().fold(0, |sum, &n| sum.saturating_add(n))
    }

    pub(super) fn count(&mut self, reason: BadLine) {
        add(&mut self.0[reason as usize], 1);
    }
}

impl Tally {
    /// Nothing counted yet, for a device with this many channels.
    #[must_use]
    pub fn new(channels: usize) -> Tally {
        Tally { refused: vec![Refused::default(); channels], ..Tally::default() }
    }

    /// Values refused on any channel, for any reason.
    #[must_use]
    pub fn refused_total(&self) -> u64 {
        self.refused.iter().fold(0, |sum, r| sum.saturating_add(r.unreadable).saturating_add(r.out_of_range))
    }
}

pub(super) fn add(counter: &mut u64, more: usize) {
    *counter = counter.saturating_add(u64::try_from(more).unwrap_or(u64::MAX));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_reason_has_a_counter_of_its_own() {
        let mut bad = BadLines::default();
        for (times, reason) in BadLine::ALL.into_iter().enumerate() {
            (0..times).for_each(|_| bad.count(reason));
        }
        for (times, reason) in BadLine::ALL.into_iter().enumerate() {
            assert_eq!(bad.of(reason), times as u64, "{reason}");
        }
        assert_eq!(bad.total(), 21);
    }

    #[test]
    fn a_counter_stops_at_its_largest_value() {
        let mut counter = u64::MAX - 1;
        add(&mut counter, 5);
        assert_eq!(counter, u64::MAX);
    }
}
