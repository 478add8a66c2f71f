//! Tells people when the store cannot write, and when it can again.

use std::time::Duration;

use tokio_util::sync::CancellationToken;

use super::notices::{Note, Notices};
use crate::store::{StoreStatus, WriterHandle};

/// How often to look: trouble is news for as long as it lasts.
const LOOK_EVERY: Duration = Duration::from_secs(2);

/// Looks at the store until `stop`.
pub async fn watch(store: WriterHandle, notices: Notices, stop: CancellationToken) {
    let mut before = store.status();
    before.trouble = None;
    while stop.run_until_cancelled(tokio::time::sleep(LOOK_EVERY)).await.is_some() {
        let now = store.status();
        if let Some(note) = news(&before, &now) {
            notices.tell(note);
        }
        before = now;
    }
}

fn news(before: &StoreStatus, now: &StoreStatus) -> Option<Note> {
    match (&before.trouble, &now.trouble) {
        (None, Some(trouble)) => {
            let text = format!("nothing can be stored at present: {trouble}; reckoning and page go on from memory");
            Some(Note::daemon("store-trouble", "warning", text))
        }
        (Some(_), None) => Some(Note::daemon("store-writes", "note", written_again(now))),
        _ if now.overrun > before.overrun => {
            let text = format!("the store is too slow: {} samples or records are lost since the start", now.overrun);
            Some(Note::daemon("store-slow", "warning", text))
        }
        _ => None,
    }
}

fn written_again(now: &StoreStatus) -> String {
    let report = &now.report;
    let mut text = "the store writes again; what waited is stored".to_owned();
    if report.thinned > 0 {
        text += &format!(", {} samples thinned out", report.thinned);
    }
    if report.lost > 0 {
        text += &format!(", {} samples or records lost for want of memory", report.lost);
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store::CommitReport;

    fn status(trouble: Option<&str>, thinned: u64, lost: u64) -> StoreStatus {
        let report = CommitReport { thinned, lost, ..CommitReport::default() };
        StoreStatus { report, trouble: trouble.map(str::to_owned), ..StoreStatus::default() }
    }

    fn told(before: &StoreStatus, now: &StoreStatus) -> Option<String> {
        news(before, now).map(|note| note.text().to_owned())
    }

    #[test]
    fn trouble_is_told_when_it_begins_and_when_it_ends_with_what_it_cost() {
        let (well, full) = (status(None, 0, 0), status(Some("the card is full: make room"), 0, 0));
        assert_eq!(told(&well, &well), None);
        let begins = told(&well, &full).expect("news");
        assert!(begins.contains("the card is full: make room"), "{begins}");
        assert_eq!(told(&full, &full), None, "once");
        assert_eq!(told(&full, &well).as_deref(), Some("the store writes again; what waited is stored"));
        let cost = told(&full, &status(None, 5400, 12)).expect("news");
        assert!(cost.contains("5400 samples thinned out") && cost.contains("12 samples or records lost"), "{cost}");
        let slow = StoreStatus { overrun: 3, ..status(None, 0, 0) };
        assert!(told(&well, &slow).expect("news").contains("3 samples"));
    }
}
