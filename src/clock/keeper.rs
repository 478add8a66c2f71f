//! Keeps the clock fixes of the running boot: which readings are noted, and what UTC its moments have by them.
//!
//! The rule is that of [`Timeline`]: only the fixes of the highest trust count. So once a person has stated the time, a
//! clock that is merely plausible may be stepped as it likes and moves nothing, and once a time source is followed, it
//! places the whole boot from its first moment on.

use std::sync::Arc;

use super::{ClockChange, HandRefused, HandTime, StepWatch, Trust, WallReading};
use crate::quantity::{BootNo, ClockFix, Moment, MonoMs, Placed, Timeline, UtcMs};

/// A clock fix that is to be stored, and what it changes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Noted {
    /// The fix.
    pub reading: WallReading,
    /// Why it was noted, as the store writes it.
    pub kind: &'static str,
    /// By how much the computer's clock was set, ms; 0 if it was not.
    pub stepped_ms: i64,
    /// By how much UTC of the present moment has changed by this, ms; positive: it is later.
    pub moved_ms: i64,
    /// How far UTC of this boot was believed before.
    pub trust_before: Trust,
    /// How far it is believed now.
    pub trust: Trust,
}

/// The clock fixes of the running boot.
#[derive(Debug)]
pub struct Keeper {
    boot: BootNo,
    watch: StepWatch,
    fixes: Vec<ClockFix>,
    timeline: Arc<Timeline>,
    stored: Option<UtcMs>,
    recorded: Option<UtcMs>,
}

impl Keeper {
    /// A keeper that goes on with the fixes that the store holds of this boot, in the order in which they were noted.
    ///
    /// `stored` is the latest believed UTC of the store: a clock behind it is not believed. `recorded` is that of
    /// earlier boots, which a person has to insist on going behind.
    #[must_use]
    pub fn new(boot: BootNo, fixes: Vec<ClockFix>, stored: Option<UtcMs>, recorded: Option<UtcMs>) -> Keeper {
        let watch = StepWatch::default();
        let mut keeper = Keeper { boot, watch, fixes, timeline: Arc::default(), stored, recorded };
        keeper.place();
        keeper
    }

    /// UTC of the moments of this boot as known now.
    #[must_use]
    pub fn timeline(&self) -> Arc<Timeline> {
        Arc::clone(&self.timeline)
    }

    /// Looks at the computer's clock; `Some` if the reading is to be stored as a clock fix.
    pub fn look(&mut self, reading: WallReading) -> Option<Noted> {
        let reading = reading.doubted_before(self.stored);
        let change = self.watch.look(reading)?;
        let (kind, stepped_ms) = match change {
            ClockChange::First => ("start", 0),
            ClockChange::Adjusted(_) => ("adjusted", 0),
            ClockChange::Stepped(by_ms) => ("set", by_ms),
            ClockChange::TrustChanged => ("trust", 0),
        };
        Some(Noted { stepped_ms, ..self.note(reading, kind) })
    }

    /// Takes the time that a person states; it is to be stored as a clock fix.
    ///
    /// # Errors
    /// [`HandRefused`]: nothing has changed.
    pub fn set_by_hand(&mut self, stated: HandTime) -> Result<Noted, HandRefused> {
        stated.check(self.recorded)?;
        if self.placed(stated.mono).rank > Trust::Hand.rank() {
            return Err(HandRefused::Synchronised);
        }
        Ok(self.note(WallReading { mono: stated.mono, utc: stated.utc, trust: Trust::Hand }, "hand"))
    }

    fn note(&mut self, reading: WallReading, kind: &'static str) -> Noted {
        let before = self.placed(reading.mono);
        self.fixes.push(ClockFix { mono: reading.mono, utc: reading.utc, rank: reading.trust.rank() });
        self.place();
        let now = self.placed(reading.mono);
        Noted {
            reading,
            kind,
            stepped_ms: 0,
            moved_ms: now.utc.0.saturating_sub(before.utc.0),
            trust_before: Trust::of_rank(before.rank),
            trust: Trust::of_rank(now.rank),
        }
    }

    fn place(&mut self) {
        // Those of lower rank never count again.
        let best = self.fixes.iter().map(|fix| fix.rank).max().unwrap_or(0);
        self.fixes.retain(|fix| fix.rank == best);
        self.timeline = Arc::new(Timeline::new(self.fixes.iter().map(|fix| (self.boot, *fix))));
    }

    /// Before any clock fix, a boot is taken to have begun in 1970.
    fn placed(&self, mono: MonoMs) -> Placed {
        let placed = self.timeline.utc(Moment { boot: self.boot, mono });
        placed.unwrap_or(Placed { utc: UtcMs(mono.0), rank: 0 })
    }
}

#[cfg(test)]
mod tests;
