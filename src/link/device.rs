//! What is known of a device beforehand, and how it fares.

use std::cmp::Ordering;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use crate::quantity::{Channel, MonoMs, Sample};

use super::frame::FrameSpec;
use super::intake::Intake;
use super::tally::Tally;

/// Largest number of channels of one device.
pub const MOST_CHANNELS: usize = 128;

/// Bounds in which a value is physically possible, both included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// Lowest possible value, in the channel's unit.
    pub low: f64,
    /// Highest possible value, in the channel's unit.
    pub high: f64,
}

impl Limit {
    /// Whether `value` is possible.
    #[must_use]
    pub fn allows(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}

/// A serial device: where it is and what it says.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceSpec {
    /// Its name in the configuration.
    pub name: String,
    /// Its channels; the values of a sample stand in this order.
    pub channels: Vec<Channel>,
    /// The path by which it is opened, every time anew. A path that stays with the device (as those in
    /// `/dev/serial/by-id`) finds it again after it was plugged in elsewhere.
    pub port: PathBuf,
    /// Bits per second on the wire. A pseudo-terminal takes any.
    pub baud: u32,
    /// How it lays out a line.
    pub frame: FrameSpec,
    /// What is physically possible on each channel, in the order of the channels; `None` for no limit.
    pub limits: Vec<Option<Limit>>,
    /// Seconds without a sample after which the device is called silent.
    pub quiet_after_s: f64,
}

impl DeviceSpec {
    /// [`DeviceSpec::quiet_after_s`] unless set otherwise: ten times the usual interval of one second. Common
    /// practice, no source.
    pub const QUIET_AFTER_S: f64 = 10.0;

    /// Checks that the parts of the description fit each other.
    ///
    /// # Errors
    /// [`SpecError`] with the first contradiction found.
    pub fn check(&self) -> Result<(), SpecError> {
        Intake::new(self).map(drop)
    }

    /// Checks everything but the frame, which [`super::Decoder::new`] checks.
    pub(super) fn check_parts(&self) -> Result<(), SpecError> {
        let count = self.channels.len();
        if count == 0 || count > MOST_CHANNELS {
            return Err(SpecError::ChannelCount(count));
        }
        let twice = (1..count).find(|&i| self.channels[..i].contains(&self.channels[i]));
        if let Some(index) = twice {
            return Err(SpecError::ChannelTwice(self.channels[index].name().to_owned()));
        }
        if self.limits.len() != count {
            return Err(SpecError::LimitCount { limits: self.limits.len(), channels: count });
        }
        for (channel, limit) in self.channels.iter().zip(&self.limits) {
            if let Some(Limit { low, high }) = *limit
                // Refuses a NaN too.
                && low.partial_cmp(&high) != Some(Ordering::Less)
            {
                let channel = channel.name().to_owned();
                return Err(SpecError::Limit { channel, low, high });
            }
        }
        if self.baud == 0 {
            return Err(SpecError::Baud);
        }
        self.quiet_after().map(drop)
    }

    /// [`DeviceSpec::quiet_after_s`] as a duration.
    pub(super) fn quiet_after(&self) -> Result<Duration, SpecError> {
        let error = SpecError::QuietAfter(self.quiet_after_s);
        if self.quiet_after_s > 0.0 {
            Duration::try_from_secs_f64(self.quiet_after_s).map_err(|_| error)
        } else {
            Err(error)
        }
    }
}

/// A description of a device that contradicts itself.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SpecError {
    /// Too few or too many channels.
    #[error("a device has 1 to {MOST_CHANNELS} channels, not {0}")]
    ChannelCount(usize),
    /// A channel listed twice.
    #[error("channel \"{0}\" is listed twice")]
    ChannelTwice(String),
    /// Limits that do not match the channels.
    #[error("{limits} limits for {channels} channels: each channel needs a limit or none")]
    LimitCount {
        /// Limits given.
        limits: usize,
        /// Channels of the device.
        channels: usize,
    },
    /// A limit that allows nothing.
    #[error("the limit of \"{channel}\" runs from {low} to {high}: the first must be the smaller")]
    Limit {
        /// The channel.
        channel: String,
        /// Its lower bound.
        low: f64,
        /// Its upper bound.
        high: f64,
    },
    /// No speed.
    #[error("baud 0 is no speed: give the device's, such as 19200")]
    Baud,
    /// A time to silence that is none.
    #[error("quiet-after-s is {0}: give seconds greater than 0")]
    QuietAfter(f64),
    /// A separator that can be part of a number, or of a line's end.
    #[error("{0:?} cannot separate fields: take a comma, a semicolon, a tab or a space")]
    Separator(char),
    /// A column that is no channel.
    #[error("column \"{0}\" is not a channel of the device; write \"-\" for a field to skip")]
    ColumnUnknown(String),
    /// Two columns for a channel.
    #[error("column \"{0}\" is listed twice")]
    ColumnTwice(String),
    /// A channel that would never get a value.
    #[error("channel \"{0}\" has no column")]
    ChannelWithoutColumn(String),
    /// A scale that does not match the columns.
    #[error("{scale} factors in scale for {columns} columns: each column needs one, skipped ones too")]
    ScaleCount {
        /// Factors given.
        scale: usize,
        /// Columns given.
        columns: usize,
    },
    /// A factor that makes every value useless.
    #[error("{0} in scale is no factor: give a number other than 0")]
    ScaleFactor(f64),
}

/// A sample with the device that it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceSample {
    /// Name of the device.
    pub device: Arc<str>,
    /// Its channels at one instant.
    pub sample: Sample,
}

/// Where a port stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PortState {
    /// No sample has come yet since the start.
    Waiting,
    /// Samples come.
    Live,
    /// The port is open, but no sample has come for [`DeviceSpec::quiet_after_s`].
    Silent,
    /// Samples came, and then the port went away, or the daemon stopped.
    Closed,
}

/// How a device fares; always the latest, for those who watch.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceStatus {
    /// Where its port stands.
    pub state: PortState,
    /// When it came into that state.
    pub since: MonoMs,
    /// Why it is not live, with a next step where there is one. Nothing while it is live or just opened.
    pub reason: Option<String>,
    /// When the last sample came.
    pub last_sample: Option<MonoMs>,
    /// What was counted.
    pub tally: Tally,
    /// The last line that was refused, with the reason: printable and shortened.
    pub last_bad: Option<String>,
    /// The last value that was refused, with its channel and the reason: printable and shortened.
    pub last_refused: Option<String>,
}

impl DeviceStatus {
    /// A device about which nothing is known yet.
    #[must_use]
    pub fn new(now: MonoMs, channels: usize) -> DeviceStatus {
        DeviceStatus {
            state: PortState::Waiting,
            since: now,
            reason: None,
            last_sample: None,
            tally: Tally::new(channels),
            last_bad: None,
            last_refused: None,
        }
    }

    /// Seconds since the last sample; `None` if there was none yet.
    #[must_use]
    pub fn quiet_for_s(&self, now: MonoMs) -> Option<f64> {
        self.last_sample.map(|last| now.seconds_since(last))
    }
}
