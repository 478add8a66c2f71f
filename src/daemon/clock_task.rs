//! Keeps wall time beside monotonic time: notes clock fixes, and tells when the clock was set or cannot be believed.

use std::time::Duration;

use tokio::sync::watch;
use tokio_util::sync::CancellationToken;

use super::notices::{Note, Notices};
use crate::clock::{Clock, ClockChange, StepWatch, Trust, WallReading};
use crate::quantity::{BootNo, MonoMs, UtcMs};
use crate::store::WriterHandle;

/// How often wall time is compared with monotonic progress.
const LOOK_EVERY: Duration = Duration::from_secs(10);

/// Maps monotonic time to UTC as known now.
#[derive(Debug, Clone)]
pub struct ClockState {
    offset_ms: watch::Receiver<i64>,
    trusted: watch::Receiver<bool>,
}

impl ClockState {
    /// UTC of a moment of this boot.
    pub fn utc(&self, mono: MonoMs) -> UtcMs {
        UtcMs(mono.0 + *self.offset_ms.borrow())
    }

    /// Whether UTC can be believed.
    pub fn trusted(&self) -> watch::Receiver<bool> {
        self.trusted.clone()
    }

    /// Whether UTC can be believed now.
    pub fn is_trusted(&self) -> bool {
        *self.trusted.borrow()
    }
}

/// The task that looks at the clock.
pub struct ClockTask {
    clock: Clock,
    boot: BootNo,
    stored_utc: Option<UtcMs>,
    store: WriterHandle,
    watch: StepWatch,
    offset_ms: watch::Sender<i64>,
    trusted: watch::Sender<bool>,
}

/// Takes the first look; the task goes on looking.
pub fn start(clock: &Clock, boot: BootNo, stored_utc: Option<UtcMs>, store: WriterHandle) -> (ClockState, ClockTask) {
    let (offset_ms, offset_seen) = watch::channel(0);
    let (trusted, trusted_seen) = watch::channel(false);
    let clock = clock.clone();
    let mut task = ClockTask { clock, boot, stored_utc, store, watch: StepWatch::default(), offset_ms, trusted };
    task.look();
    (ClockState { offset_ms: offset_seen, trusted: trusted_seen }, task)
}

impl ClockTask {
    /// Looks until `stop`.
    pub async fn run(mut self, stop: CancellationToken, notices: Notices) {
        if !*self.trusted.borrow() {
            notices.tell(untrusted());
        }
        while stop.run_until_cancelled(tokio::time::sleep(LOOK_EVERY)).await.is_some() {
            let was_trusted = *self.trusted.borrow();
            if let Some(ClockChange::Stepped(by_ms)) = self.look() {
                tracing::warn!(by_ms, "the clock was set");
                let minutes = by_ms / 60_000;
                let text = format!("the clock was set by {minutes} min; nothing is lost or stored twice");
                notices.tell(Note::daemon("clock-set", "note", text));
            }
            if was_trusted && !*self.trusted.borrow() {
                notices.tell(untrusted());
            }
        }
    }

    fn look(&mut self) -> Option<ClockChange> {
        let reading = self.clock.wall().doubted_before(self.stored_utc);
        let change = self.watch.look(reading)?;
        // A store that is gone has told so itself.
        let _ = self.store.clock_fix(self.boot, reading, kind(change));
        self.publish(reading);
        Some(change)
    }

    fn publish(&self, reading: WallReading) {
        self.offset_ms.send_replace(reading.utc.0 - reading.mono.0);
        self.trusted.send_replace(reading.trust != Trust::Untrusted);
    }
}

fn untrusted() -> Note {
    let text = "the computer's clock cannot be right; times are corrected once it is".to_owned();
    Note::daemon("clock-untrusted", "caution", text)
}

const fn kind(change: ClockChange) -> &'static str {
    match change {
        ClockChange::First => "start",
        ClockChange::Adjusted(_) => "adjusted",
        ClockChange::Stepped(_) => "set",
        ClockChange::TrustChanged => "trust",
    }
}
