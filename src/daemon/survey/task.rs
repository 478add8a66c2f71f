//! The survey beside the running daemon, and what people do to the record meanwhile.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Notify, mpsc};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;

use super::{Surveyed, Surveying, survey};
use crate::daemon::notices::Notices;
use crate::http::{RecordDone, RecordOrder, RecordReply};
use crate::store::{Error, Result, WriterHandle};

/// How often samples are looked at while nothing calls for it sooner.
const EVERY: Duration = Duration::from_secs(3600);

/// What the task works with.
pub struct Parts {
    pub store_path: PathBuf,
    pub works: Vec<Surveying>,
    pub store: WriterHandle,
    pub notices: Notices,
    /// Told after each look at what is to be reconciled: at the start, and after each fix.
    pub reconciled: Arc<Notify>,
    pub stop: CancellationToken,
}

type Looks = JoinHandle<Result<Vec<Surveyed>>>;

/// Looks at samples when there is something new and once an hour, and does what people ask of the record, until `stop`.
pub async fn watch(parts: Parts, mut orders: mpsc::Receiver<RecordOrder>) {
    let parts = Arc::new(parts);
    let mut looks: Option<Looks> = None;
    let mut wanted = false;
    loop {
        if wanted && looks.is_none() {
            wanted = false;
            looks = Some(look(Arc::clone(&parts)));
        }
        tokio::select! {
            () = parts.stop.cancelled() => break,
            () = parts.reconciled.notified() => wanted = true,
            () = tokio::time::sleep(EVERY) => wanted = true,
            done = ended(&mut looks) => tell(&parts, done),
            Some(order) = orders.recv() => wanted |= parts.obey(order).await,
        }
    }
    // It ends by the same token, soon; what it was about is looked at again at the next start.
    if let Some(looks) = looks {
        let _ = looks.await;
    }
}

fn look(parts: Arc<Parts>) -> Looks {
    tokio::task::spawn_blocking(move || {
        let mut store = parts.store.clone();
        // Readers see what is committed.
        store.flush_blocking()?;
        let of_bank = |work| survey(&parts.store_path, work, &mut store, &parts.stop, &mut |_| {});
        parts.works.iter().map(of_bank).collect()
    })
}

/// Waits for the end of a look; for ever if there is none.
async fn ended(looks: &mut Option<Looks>) -> Result<Vec<Surveyed>> {
    match looks {
        None => std::future::pending().await,
        Some(running) => {
            let done = running.await;
            *looks = None;
            done.unwrap_or_else(|error| {
                tracing::error!(%error, "looking at the samples broke off");
                Ok(Vec::new())
            })
        }
    }
}

fn tell(parts: &Parts, done: Result<Vec<Surveyed>>) {
    match done {
        Ok(all) => {
            for surveyed in all {
                surveyed.notes.iter().for_each(|note| tracing::debug!("{note}"));
                surveyed.events.iter().for_each(|event| parts.notices.show(event));
            }
        }
        Err(error) => tracing::warn!(%error, "samples are not looked at yet; they will be within the hour"),
    }
}

impl Parts {
    /// Does what somebody asks, and answers; true if samples are to be looked at after it.
    async fn obey(&self, order: RecordOrder) -> bool {
        match order {
            RecordOrder::Edit { edit, reply } => {
                let asked = edit.clone();
                let done = self.store.at_once(move |writer| writer.edit_passage(&edit)).await;
                answer(reply, done.map(|id| RecordDone { id, text: asked.done(id) }))
            }
            RecordOrder::StartTest { reply, .. } | RecordOrder::StopTest { reply, .. } => {
                answer(reply, Err(Error::Passage("no capacity test can be started yet".to_owned())))
            }
        }
    }
}

/// Answers; true if something was done.
fn answer(reply: RecordReply, done: Result<RecordDone>) -> bool {
    let is_done = done.is_ok();
    // Whoever asked may have gone meanwhile.
    let _ = reply.send(done.map_err(|error| match error {
        Error::Passage(words) => words,
        other => other.to_string(),
    }));
    is_done
}
