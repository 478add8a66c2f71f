//! What goes into the store and comes out of it, beside the samples themselves.

use crate::quantity::{BandedSoc, BootNo, Channel, Moment, UtcMs};

/// Number of a series in the store.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct SeriesId(pub i64);

/// What a series records.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeriesKind {
    /// Samples of a device.
    Device,
    /// The reckoned track of a bank.
    Reckoning,
}

impl SeriesKind {
    /// As the store writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            SeriesKind::Device => "device",
            SeriesKind::Reckoning => "reckoning",
        }
    }
}

/// Where a boot's samples come from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BootKind {
    /// Read live, one boot of the computer.
    Live,
    /// A recorded trace, stored as if it had been a boot.
    Import,
}

impl BootKind {
    /// As the store writes it.
    #[must_use]
    pub const fn as_str(self) -> &'static str {
        match self {
            BootKind::Live => "live",
            BootKind::Import => "import",
        }
    }
}

/// A series: samples that share their channels.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesSpec {
    /// Name, unique within its bank.
    pub name: String,
    /// What it records.
    pub kind: SeriesKind,
    /// The bank it belongs to.
    pub bank: String,
    /// Its channels, in the order in which samples give their values.
    pub channels: Vec<Channel>,
    /// Samples further apart than this have a gap between them: nothing is integrated over it and charts break there.
    /// About ten times the rhythm of the device.
    pub gap_ms: i64,
}

/// A series as the store knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SeriesInfo {
    /// Its number.
    pub id: SeriesId,
    /// Name, unique within its bank.
    pub name: String,
    /// `device` or `reckoning`.
    pub kind: String,
    /// The bank it belongs to.
    pub bank: String,
    /// Channels by position; samples come out in this order.
    pub channels: Vec<String>,
    /// True if `power_w` is derived from voltage and current of each sample.
    pub has_power: bool,
    /// Longest distance between samples without a gap.
    pub gap_ms: i64,
}

/// A correction of the reckoning.
#[derive(Debug, Clone, PartialEq)]
pub struct FixRecord {
    /// The bank.
    pub bank: String,
    /// When.
    pub at: Moment,
    /// `full`, `rest`, `empty` or `hand`.
    pub kind: String,
    /// Before the fix; `None` if nothing was known.
    pub before: Option<BandedSoc>,
    /// After the fix.
    pub after: BandedSoc,
    /// For people.
    pub text: String,
}

/// Something worth telling. The same event within an hour of the last is counted, not told again.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EventRecord {
    /// When.
    pub at: Moment,
    /// The bank it concerns, if one.
    pub bank: Option<String>,
    /// The device it concerns, if one.
    pub device: Option<String>,
    /// What kind; bank, device and kind together say whether it is the same event.
    pub kind: String,
    /// `alarm`, `warning`, `caution` or `note`.
    pub priority: String,
    /// For people; that of the latest is kept.
    pub text: String,
}

/// Kind of the events that are notes of people.
pub const NOTE_KIND: &str = "note";

/// What somebody notes on a span of a bank's record.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NoteRecord {
    /// The bank.
    pub bank: String,
    /// From when.
    pub from: Moment,
    /// To when; the same where it is about one moment.
    pub to: Moment,
    /// As it was written.
    pub text: String,
}

/// An event as stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredEvent {
    /// Number in the store.
    pub id: i64,
    /// As last seen; `at` is its last time.
    pub event: EventRecord,
    /// The first time.
    pub first: Moment,
    /// UTC of the first time, if its boot can be placed.
    pub first_utc: Option<UtcMs>,
    /// UTC of the last time, if its boot can be placed.
    pub last_utc: Option<UtcMs>,
    /// How often.
    pub count: i64,
}

/// A fix as stored.
#[derive(Debug, Clone, PartialEq)]
pub struct StoredFix {
    /// Number in the store.
    pub id: i64,
    /// The fix.
    pub fix: FixRecord,
    /// UTC, if its boot can be placed.
    pub utc: Option<UtcMs>,
}

/// The state of a bank's reckoning.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checkpoint {
    /// The bank.
    pub bank: String,
    /// The last moment that the state has seen.
    pub at: Moment,
    /// Version of the state's form, for the reckoning to judge.
    pub version: i64,
    /// The state as JSON.
    pub state: String,
}

/// Where a run of the reckoning begins, with its state there; the next anchor of the same line ends the run.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Anchor {
    /// The bank.
    pub bank: String,
    /// The boot of a trace that is brought in beside the bank's present reckoning; `None` for that reckoning itself.
    pub side: Option<BootNo>,
    /// The last moment that the state has seen.
    pub at: Moment,
    /// Kind of the fix just before; `None` where reckoning began anew, so that no run ends here.
    pub fix: Option<String>,
    /// Version of the state's form, for the reckoning to judge.
    pub version: i64,
    /// The state.
    pub state: String,
}

/// An anchor as stored.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StoredAnchor {
    /// Number in the store; rises within a line.
    pub id: i64,
    /// The anchor.
    pub anchor: Anchor,
}
