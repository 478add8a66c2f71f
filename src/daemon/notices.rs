//! Events: what the daemon tells people, in the store and on the page.

use std::sync::Arc;
use std::time::Duration;

use tokio_util::sync::CancellationToken;

use crate::clock::ClockState;
use crate::http::{DeviceWatch, EventView, Live};
use crate::link::{DeviceStatus, PortState};
use crate::quantity::{BootNo, Moment};
use crate::store::{EventRecord, News, WriterHandle};

/// Bad input is told at most this often; in between it is counted.
const TELL_EVERY: Duration = Duration::from_secs(10);

/// An event to be told.
#[derive(Debug, Clone)]
pub struct Note {
    bank: Option<String>,
    device: Option<String>,
    kind: &'static str,
    priority: &'static str,
    text: String,
}

impl Note {
    /// About the daemon itself.
    pub fn daemon(kind: &'static str, priority: &'static str, text: String) -> Note {
        Note { bank: None, device: None, kind, priority, text }
    }

    /// About a bank.
    pub fn bank(bank: &str, kind: &'static str, priority: &'static str, text: String) -> Note {
        Note { bank: Some(bank.to_owned()), device: None, kind, priority, text }
    }

    /// What it says.
    #[cfg(test)]
    pub fn text(&self) -> &str {
        &self.text
    }

    fn device(device: &DeviceWatch, kind: &'static str, priority: &'static str, text: String) -> Note {
        let (bank, name) = (Some(device.bank.clone()), Some(device.name.clone()));
        Note { bank, device: name, kind, priority, text }
    }
}

/// Stores events and tells them to whoever watches the page.
#[derive(Clone)]
pub struct Notices {
    store: WriterHandle,
    live: Arc<Live>,
    clock: ClockState,
    boot: BootNo,
}

impl Notices {
    /// Notices of this boot.
    pub fn new(store: WriterHandle, live: Arc<Live>, clock: ClockState, boot: BootNo) -> Notices {
        Notices { store, live, clock, boot }
    }

    /// What UTC the moments of this boot have.
    pub const fn clock(&self) -> &ClockState {
        &self.clock
    }

    /// Shows each bank again: the times in it have moved.
    pub fn tell_again(&self) {
        self.live.tell_again();
    }

    /// Stores one and shows it.
    pub fn tell(&self, note: Note) {
        let event = EventRecord {
            at: Moment { boot: self.boot, mono: self.live.clock.mono() },
            bank: note.bank,
            device: note.device,
            kind: note.kind.to_owned(),
            priority: note.priority.to_owned(),
            text: note.text,
        };
        self.show(&event);
        // If the store is gone, its own trouble is on the page already.
        let _ = self.store.event(event);
    }

    /// Shows an event that is stored already; one of an earlier boot is no news.
    pub fn show(&self, event: &EventRecord) {
        if event.at.boot != self.boot {
            return;
        }
        let time = crate::review::rfc3339(self.clock.utc(event.at.mono));
        self.live.notice(&EventView {
            first_time: time.clone(),
            time,
            bank: event.bank.clone(),
            device: event.device.clone(),
            kind: event.kind.clone(),
            priority: event.priority.clone(),
            text: event.text.clone(),
            count: 1,
        });
    }
}

/// Shows what the store tells of damage; it has stored and logged it already.
pub async fn show_news(mut news: News, notices: Notices, stop: CancellationToken) {
    while let Some(Some(event)) = stop.run_until_cancelled(news.recv()).await {
        notices.show(&event);
    }
}

/// Tells when a device comes and goes and when it sends what cannot be read.
pub async fn watch_device(mut device: DeviceWatch, notices: Notices, stop: CancellationToken) {
    let mut state = device.status.borrow().state;
    let mut told = trouble(&device.status.borrow());
    while let Some(Ok(())) = stop.run_until_cancelled(device.status.changed()).await {
        // Ports that close because we stop are no event.
        if stop.is_cancelled() {
            return;
        }
        let status = device.status.borrow_and_update().clone();
        if status.state != state {
            if let Some(note) = state_note(&device, state, &status) {
                notices.tell(note);
            }
            state = status.state;
        }
        let trouble = trouble(&status);
        if trouble > told {
            told = trouble;
            notices.tell(bad_input(&device, &status));
            // Let more pile up before telling again.
            if stop.run_until_cancelled(tokio::time::sleep(TELL_EVERY)).await.is_none() {
                return;
            }
        }
    }
}

fn trouble(status: &DeviceStatus) -> u64 {
    let tally = &status.tally;
    [tally.bad.total(), tally.overlong, tally.refused_total(), tally.lost].into_iter().fold(0, u64::saturating_add)
}

fn state_note(device: &DeviceWatch, before: PortState, status: &DeviceStatus) -> Option<Note> {
    let name = &device.name;
    let why = status.reason.as_ref().map_or(String::new(), |reason| format!(": {reason}"));
    match status.state {
        PortState::Live if before == PortState::Waiting => None,
        PortState::Live => Some(Note::device(device, "device-back", "note", format!("{name} is heard again"))),
        PortState::Silent => {
            Some(Note::device(device, "device-silent", "warning", format!("nothing comes from {name}{why}")))
        }
        PortState::Closed => {
            Some(Note::device(device, "device-gone", "warning", format!("the port of {name} has gone{why}")))
        }
        PortState::Waiting => None,
    }
}

fn bad_input(device: &DeviceWatch, status: &DeviceStatus) -> Note {
    let tally = &status.tally;
    let mut parts = Vec::new();
    let mut add = |count: u64, what: &str| {
        if count > 0 {
            parts.push(format!("{count} {what}"));
        }
    };
    add(tally.bad.total(), "lines could not be read");
    add(tally.overlong, "lines were too long");
    add(tally.refused_total(), "values were refused");
    add(tally.lost, "samples were lost");
    let last = [&status.last_bad, &status.last_refused].into_iter().flatten().next();
    let last = last.map_or(String::new(), |last| format!("; last: {last}"));
    let text = format!("{}: {} since the start{last}", device.name, parts.join(", "));
    Note::device(device, "bad-input", "caution", text)
}
