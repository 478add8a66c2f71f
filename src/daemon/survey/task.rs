//! The survey beside the running daemon, and what people do to the record meanwhile.

use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{Notify, mpsc};
use tokio::task::JoinHandle;
use tokio_util::sync::CancellationToken;

use super::{Surveyed, Surveying, start_test, stop_test, survey};
use crate::daemon::notices::Notices;
use crate::http::{RecordDone, RecordOrder, RecordReply, TestWish};
use crate::store::{Error, NoteRecord, PassageEdit, Result, WriterHandle};

/// How often samples are looked at while nothing calls for it sooner.
const EVERY: Duration = Duration::from_secs(3600);
/// The same while a capacity test runs: a minute is what it goes by.
const EVERY_IN_A_TEST: Duration = Duration::from_secs(60);

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

/// What somebody asks about a capacity test: it goes by what was looked at last, so a look comes before it.
enum TestOrder {
    Start(String, TestWish, RecordReply),
    Stop(String, RecordReply),
}

/// Looks at samples when there is something new and once an hour, and does what people ask of the record, until `stop`.
pub async fn watch(parts: Parts, mut orders: mpsc::Receiver<RecordOrder>) {
    let parts = Arc::new(parts);
    let mut looks: Option<Looks> = None;
    let mut wanted = false;
    let mut every = EVERY;
    let mut tests = Vec::new();
    loop {
        if (wanted || !tests.is_empty()) && looks.is_none() {
            wanted = false;
            looks = Some(look(Arc::clone(&parts), std::mem::take(&mut tests)));
        }
        tokio::select! {
            () = parts.stop.cancelled() => break,
            () = parts.reconciled.notified() => wanted = true,
            () = tokio::time::sleep(every) => wanted = true,
            done = ended(&mut looks) => {
                if let Some(testing) = tell(&parts, done) {
                    every = if testing { EVERY_IN_A_TEST } else { EVERY };
                }
            }
            Some(order) = orders.recv() => match order {
                RecordOrder::Edit { edit, reply } => wanted |= parts.edit(edit, reply).await,
                RecordOrder::Note { note, reply } => parts.note(note, reply).await,
                RecordOrder::StartTest { bank, wish, reply } => {
                    tests.push(TestOrder::Start(bank, wish, reply));
                    every = EVERY_IN_A_TEST;
                }
                RecordOrder::StopTest { bank, reply } => tests.push(TestOrder::Stop(bank, reply)),
            },
        }
    }
    // It ends by the same token, soon; what it was about is looked at again at the next start.
    if let Some(looks) = looks {
        let _ = looks.await;
    }
}

fn look(parts: Arc<Parts>, tests: Vec<TestOrder>) -> Looks {
    tokio::task::spawn_blocking(move || {
        let mut store = parts.store.clone();
        // Readers see what is committed.
        let done = store.flush_blocking().and_then(|_| {
            let of_bank = |work| survey(&parts.store_path, work, &mut store, &parts.stop, &mut |_| {});
            parts.works.iter().map(of_bank).collect()
        });
        tests.into_iter().for_each(|test| parts.obey(test));
        done
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

/// Tells whether a capacity test is running; `None` if that is not known.
fn tell(parts: &Parts, done: Result<Vec<Surveyed>>) -> Option<bool> {
    match done {
        Ok(all) => {
            for surveyed in &all {
                surveyed.notes.iter().for_each(|note| tracing::debug!("{note}"));
                surveyed.events.iter().for_each(|event| parts.notices.show(event));
            }
            Some(all.iter().any(|surveyed| surveyed.testing))
        }
        Err(error) => {
            tracing::warn!(%error, "samples are not looked at yet; they will be within the hour");
            None
        }
    }
}

impl Parts {
    /// Does what somebody asks of passages, and answers; true if samples are to be looked at after it.
    async fn edit(&self, edit: PassageEdit, reply: RecordReply) -> bool {
        let asked = edit.clone();
        let done = self.store.at_once(move |writer| writer.edit_passage(&edit)).await;
        answer(reply, done.map(|id| RecordDone { id, text: asked.done(id) }))
    }

    /// Keeps a note, and answers. Nothing that is found from samples depends on it.
    async fn note(&self, note: NoteRecord, reply: RecordReply) {
        let done = self.store.at_once(move |writer| writer.note(&note)).await;
        answer(reply, done.map(|id| RecordDone { id, text: "the note is kept".to_owned() }));
    }

    /// Starts or stops a capacity test, and answers.
    fn obey(&self, order: TestOrder) {
        let (TestOrder::Start(bank, ..) | TestOrder::Stop(bank, _)) = &order;
        let Some(work) = self.works.iter().find(|work| work.bank.name == *bank) else { return };
        let (path, mut store) = (&self.store_path, self.store.clone());
        match order {
            TestOrder::Start(_, wish, reply) => answer(reply, start_test(path, work, &wish, &mut store)),
            TestOrder::Stop(_, reply) => answer(reply, stop_test(path, work, &mut store)),
        };
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
