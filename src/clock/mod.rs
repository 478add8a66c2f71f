//! The one place that reads a clock.
//!
//! Monotonic boot time (`CLOCK_BOOTTIME`, suspend included) is what samples and integration use. Wall time is
//! only ever *noted* as a clock fix; whether it is to be believed is said beside it. [`Keeper`] holds what was noted in
//! the running boot, and [`ClockState`] tells everybody else what UTC its moments have by that.

mod hand;
mod keeper;
mod state;
mod step;
mod system;

use std::sync::Arc;

pub use hand::{HandRefused, HandTime};
pub use keeper::{Keeper, Noted};
pub use state::{ClockState, When};
pub use step::{ClockChange, StepWatch};
pub use system::SystemClock;

use crate::quantity::{BY_HAND, MonoMs, UtcMs};

/// How far wall time can be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Trust {
    /// Before the program was written or decades after it, or before a moment that the store already holds.
    Untrusted,
    /// Could be right; nothing vouches for it.
    Plausible,
    /// A person aboard set it.
    Hand,
    /// The kernel's clock is disciplined by a time source.
    Synchronised,
}

impl Trust {
    /// Rank on the timeline: higher is believed more, 0 is not believed.
    #[must_use]
    pub const fn rank(self) -> u8 {
        match self {
            Trust::Untrusted => 0,
            Trust::Plausible => 1,
            Trust::Hand => BY_HAND,
            Trust::Synchronised => 3,
        }
    }

    /// The trust of a rank.
    #[must_use]
    pub const fn of_rank(rank: u8) -> Trust {
        match rank {
            0 => Trust::Untrusted,
            1 => Trust::Plausible,
            BY_HAND => Trust::Hand,
            _ => Trust::Synchronised,
        }
    }

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Trust::Untrusted => "untrusted",
            Trust::Plausible => "plausible",
            Trust::Hand => "hand",
            Trust::Synchronised => "synchronised",
        }
    }
}

/// Wall time with its standing, read together with the monotonic clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct WallReading {
    /// Monotonic time of the reading.
    pub mono: MonoMs,
    /// Wall time of the reading.
    pub utc: UtcMs,
    /// How far it can be believed.
    pub trust: Trust,
}

/// Something that can be asked for the time.
pub trait TimeSource: Send + Sync {
    /// Time since boot.
    fn mono(&self) -> MonoMs;
    /// Wall time and its standing.
    fn wall(&self) -> WallReading;
    /// A text that differs from boot to boot.
    fn boot_id(&self) -> String;
}

/// Handle to a time source; cheap to clone and pass to the tasks that stamp samples.
#[derive(Clone)]
pub struct Clock(Arc<dyn TimeSource>);

impl Clock {
    /// A clock on `source`.
    pub fn new(source: impl TimeSource + 'static) -> Clock {
        Clock(Arc::new(source))
    }

    /// The computer's own clock.
    #[must_use]
    pub fn system() -> Clock {
        Clock::new(SystemClock)
    }

    /// Time since boot.
    #[must_use]
    pub fn mono(&self) -> MonoMs {
        self.0.mono()
    }

    /// Wall time and its standing.
    #[must_use]
    pub fn wall(&self) -> WallReading {
        self.0.wall()
    }

    /// A text that differs from boot to boot.
    #[must_use]
    pub fn boot_id(&self) -> String {
        self.0.boot_id()
    }
}
