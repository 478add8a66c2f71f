//! What UTC the moments of the running boot have, as known now.

use std::sync::Arc;

use tokio::sync::watch;

use super::Trust;
use crate::quantity::{BootNo, Moment, MonoMs, Placed, Timeline, UtcMs};

/// A time to be shown later, when more may be known of the clock than now.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum When {
    /// In the running boot: its UTC is worked out when it is shown.
    Running(MonoMs),
    /// In a boot that has ended: its UTC changes no more.
    Past(UtcMs),
}

impl When {
    /// A moment that was at `utc` as far as was known then, seen from the running boot, if one is running.
    #[must_use]
    pub fn of(at: Moment, utc: UtcMs, running: Option<BootNo>) -> When {
        if running == Some(at.boot) { When::Running(at.mono) } else { When::Past(utc) }
    }
}

/// Maps moments of the running boot to UTC as known now. Cheap to clone.
#[derive(Debug, Clone)]
pub struct ClockState {
    boot: BootNo,
    timeline: watch::Receiver<Arc<Timeline>>,
}

impl ClockState {
    /// The state of a boot by a timeline that holds it and may change.
    #[must_use]
    pub const fn new(boot: BootNo, timeline: watch::Receiver<Arc<Timeline>>) -> ClockState {
        ClockState { boot, timeline }
    }

    /// UTC of a moment of this boot.
    #[must_use]
    pub fn utc(&self, mono: MonoMs) -> UtcMs {
        self.placed(mono).utc
    }

    /// UTC of a time that was noted.
    #[must_use]
    pub fn utc_of(&self, when: When) -> UtcMs {
        match when {
            When::Running(mono) => self.utc(mono),
            When::Past(utc) => utc,
        }
    }

    /// How far UTC of this boot can be believed.
    #[must_use]
    pub fn trust(&self) -> Trust {
        Trust::of_rank(self.placed(MonoMs(i64::MAX)).rank)
    }

    /// Whether UTC of this boot can be believed.
    #[must_use]
    pub fn is_trusted(&self) -> bool {
        self.trust() != Trust::Untrusted
    }

    /// Before any clock fix, a boot is taken to have begun in 1970.
    fn placed(&self, mono: MonoMs) -> Placed {
        let placed = self.timeline.borrow().utc(Moment { boot: self.boot, mono });
        placed.unwrap_or(Placed { utc: UtcMs(mono.0), rank: 0 })
    }
}
