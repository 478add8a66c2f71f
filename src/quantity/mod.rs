//! Units, moments, samples, and estimates with their error. Pure.

mod band;
mod channel;
mod moment;
mod sample;
mod timeline;

pub use band::{Band, Estimate, Z95};
pub use channel::{Channel, ChannelError, Unit};
pub use moment::{BootNo, Moment, MonoMs, UtcMs};
pub use sample::{Reading, Sample};
pub use timeline::{BY_HAND, ClockFix, MonoRange, Placed, Timeline};
