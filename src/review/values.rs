//! Values as page, commands and files are given them: times in UTC, estimates with their band.

use serde::Serialize;
use utoipa::ToSchema;

use crate::passage::At;
use crate::quantity::{Band, BandedSoc, Estimate, Moment, Timeline, UtcMs};

/// UTC as RFC 3339.
#[must_use]
pub fn rfc3339(utc: UtcMs) -> Option<String> {
    jiff::Timestamp::from_millisecond(utc.0).ok().map(|t| t.to_string())
}

/// A moment as RFC 3339; `None` if its boot cannot be placed in time.
pub(super) fn time_of(timeline: &Timeline, at: Moment) -> Option<String> {
    timeline.utc(at).and_then(|placed| rfc3339(placed.utc))
}

/// A value with its 95 % band.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct BandView {
    /// The most likely value.
    pub value: f64,
    /// Lower edge of the band.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

impl BandView {
    /// A value with a band.
    #[must_use]
    pub const fn new(value: f64, band: Band) -> BandView {
        BandView { value, low: band.low, high: band.high }
    }

    /// The same in another unit; `scale` is positive.
    #[must_use]
    pub fn scaled(self, scale: f64) -> BandView {
        BandView { value: self.value * scale, low: self.low * scale, high: self.high * scale }
    }
}

impl From<Estimate> for BandView {
    fn from(estimate: Estimate) -> BandView {
        BandView::new(estimate.value, estimate.band())
    }
}

/// A state of charge with its 95 % band, 0..1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, ToSchema)]
pub struct SocView {
    /// State of charge.
    pub soc: f64,
    /// Lower edge of the band.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

impl From<BandedSoc> for SocView {
    fn from(BandedSoc { soc, band }: BandedSoc) -> SocView {
        SocView { soc, low: band.low, high: band.high }
    }
}

/// A value and when it was read.
#[derive(Debug, Clone, PartialEq, Serialize, ToSchema)]
pub struct AtView {
    /// The value.
    pub value: f64,
    /// When, RFC 3339; `null` if it cannot be placed in time.
    pub time: Option<String>,
}

impl AtView {
    pub(super) fn new(at: At, timeline: &Timeline) -> AtView {
        AtView { value: at.value, time: time_of(timeline, at.at) }
    }
}
