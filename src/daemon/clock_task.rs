//! Keeps wall time beside monotonic time: notes clock fixes, takes the time from a person, and tells when times have
//! moved or the clock cannot be believed.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{mpsc, watch};
use tokio_util::sync::CancellationToken;

use super::notices::{Note, Notices};
use super::take_up::duration_words;
use crate::clock::{Clock, ClockState, HandRefused, HandTime, Keeper, Noted, Trust};
use crate::http::{ClockOrder, ClockSet};
use crate::quantity::{BootNo, Timeline};
use crate::store::WriterHandle;

/// How often wall time is compared with monotonic progress.
const LOOK_EVERY: Duration = Duration::from_secs(10);
/// Times that move by less than this are not told of, ms: a clock that is slewed moves them by half a second at a time.
const TOLD_FROM_MS: i64 = 10_000;

/// The task that looks at the clock.
pub struct ClockTask {
    clock: Clock,
    boot: BootNo,
    store: WriterHandle,
    keeper: Keeper,
    timeline: watch::Sender<Arc<Timeline>>,
}

/// Takes the first look; the task goes on looking.
pub fn start(clock: &Clock, boot: BootNo, keeper: Keeper, store: WriterHandle) -> (ClockState, ClockTask) {
    let (timeline, seen) = watch::channel(keeper.timeline());
    let mut task = ClockTask { clock: clock.clone(), boot, store, keeper, timeline };
    task.look();
    (ClockState::new(boot, seen), task)
}

impl ClockTask {
    /// Looks, and takes the time from people, until `stop`.
    pub async fn run(mut self, mut orders: mpsc::Receiver<ClockOrder>, stop: CancellationToken, notices: Notices) {
        if !notices.clock().is_trusted() {
            notices.tell(untrusted());
        }
        loop {
            tokio::select! {
                () = stop.cancelled() => return,
                () = tokio::time::sleep(LOOK_EVERY) => {
                    if let Some(noted) = self.look() {
                        tell(&noted, &notices);
                    }
                }
                Some(ClockOrder { stated, reply }) = orders.recv() => {
                    let done = self.set_by_hand(stated, &notices);
                    tracing::info!(?stated, ?done, "time set by hand");
                    // Whoever asked may have gone meanwhile.
                    let _ = reply.send(done);
                }
            }
        }
    }

    fn look(&mut self) -> Option<Noted> {
        let noted = self.keeper.look(self.clock.wall())?;
        self.keep(&noted);
        Some(noted)
    }

    fn set_by_hand(&mut self, stated: HandTime, notices: &Notices) -> Result<ClockSet, HandRefused> {
        let noted = self.keeper.set_by_hand(stated)?;
        self.keep(&noted);
        let text = format!("time set by hand; {}", moved_words(&noted));
        notices.tell(Note::daemon("clock-set-by-hand", "note", text.clone()));
        notices.tell_again();
        Ok(ClockSet { text, moved_ms: noted.moved_ms })
    }

    fn keep(&self, noted: &Noted) {
        // A store that is gone has told so itself.
        let _ = self.store.clock_fix(self.boot, noted.reading, noted.kind);
        self.timeline.send_replace(self.keeper.timeline());
    }
}

/// Tells what people should know of a reading of the computer's clock.
fn tell(noted: &Noted, notices: &Notices) {
    let moved = noted.moved_ms.abs() >= TOLD_FROM_MS;
    if noted.stepped_ms != 0 || moved {
        tracing::warn!(stepped_ms = noted.stepped_ms, moved_ms = noted.moved_ms, trust = ?noted.trust, "the clock was set");
        notices.tell(Note::daemon("clock-set", "note", set_words(noted)));
    }
    if moved || noted.trust != noted.trust_before {
        notices.tell_again();
    }
}

fn untrusted() -> Note {
    let text = "the computer's clock cannot be right; times are corrected once it is, or once the time is set by hand";
    Note::daemon("clock-untrusted", "caution", text.to_owned())
}

fn set_words(noted: &Noted) -> String {
    if noted.moved_ms.abs() >= TOLD_FROM_MS {
        return format!("the computer's clock was set; {}; nothing is lost or stored twice", moved_words(noted));
    }
    let by = direction_words(noted.stepped_ms);
    let stand = match noted.trust {
        Trust::Hand => "times stay as they were set by hand",
        _ => "times stay as they are, by a clock that is believed more",
    };
    format!("the computer's clock was set {by}; {stand}")
}

/// What has moved, and by how much: a clock that is believed more places the whole boot, as a person does; another
/// setting places what comes after it.
fn moved_words(noted: &Noted) -> String {
    let what = if noted.trust > noted.trust_before || noted.trust == Trust::Hand {
        "times since the computer started"
    } else {
        "times from now on"
    };
    match noted.moved_ms {
        -499..500 => format!("{what} stay as they are"),
        by_ms => format!("{what} moved {}", direction_words(by_ms)),
    }
}

fn direction_words(by_ms: i64) -> String {
    #[expect(clippy::cast_precision_loss, reason = "exact below 2^53 ms, which is 285,000 years")]
    let words = duration_words(by_ms.unsigned_abs() as f64 / 1000.0);
    if by_ms < 0 { format!("back by {words}") } else { format!("forward by {words}") }
}

#[cfg(test)]
mod tests;
