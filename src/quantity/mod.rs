//! Units, moments, samples, and estimates with their error. Pure.

mod area;
mod band;
mod channel;
mod minute;
mod moment;
mod sample;
mod timeline;

pub use area::areas;
pub use band::{Band, BandedSoc, Estimate, Z95};
pub use channel::{Channel, ChannelError, Unit};
pub use minute::{Extreme, MINUTE_MS, Minute, Spread};
pub use moment::{BootNo, Moment, MonoMs, UtcMs};
pub use sample::{Reading, Sample};
pub use timeline::{BY_HAND, ClockFix, MonoRange, Placed, Timeline};
