//! The writer on a thread of its own, fed through a bounded queue.

mod at_once;
mod damage;

use std::sync::mpsc::{Receiver, RecvTimeoutError, SyncSender, TrySendError, sync_channel};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::mpsc::{UnboundedSender, unbounded_channel};
use tokio::sync::oneshot;

pub use damage::News;

use super::error::{Error, Result};
use super::record::{Anchor, Checkpoint, EventRecord, FixRecord, SeriesId, SeriesSpec};
use super::unreadable::Unreadable;
use super::waiting::WaitingFeed;
use super::writer::{CommitReport, Writer, written};
use crate::clock::{Clock, WallReading};
use crate::quantity::{BootNo, MonoMs, Sample};

/// Commands that wait for the thread. At 1 Hz that is over an hour of one device; while the card is slow for a few
/// seconds nothing is near it.
const QUEUE: usize = 4096;

/// How soon what was taken is made safe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Pace {
    /// A sample waits no longer than this before it is on the slate or in a commit.
    pub secure_after: Duration,
    /// What is only on the slate, and saved states, are committed this often.
    pub commit_every: Duration,
}

impl Pace {
    /// The daemon's. A power cut may cost 10 s at most, and a slow card may take a second and more for a note. A commit
    /// each five minutes costs less than the notes between, and a start takes as long to read what they hold.
    pub const LIVE: Pace = Pace { secure_after: Duration::from_millis(8500), commit_every: Duration::from_secs(300) };
}

type Reply<T> = oneshot::Sender<Result<T>>;

enum Command {
    Append(SeriesId, Sample),
    Fix(FixRecord, Option<Anchor>),
    Anchor(Anchor),
    Reconciled(SeriesId, Vec<Sample>, Option<i64>),
    Event(EventRecord),
    ClockFix(BootNo, WallReading, String),
    Checkpoint(Checkpoint),
    Series(SeriesSpec, Reply<SeriesId>),
    SetAside(Unreadable),
    Flush(Reply<CommitReport>),
    AtOnce(at_once::Job),
    Close,
}

/// How the store fares.
#[derive(Debug, Clone, Default)]
pub struct StoreStatus {
    /// What the last commit that succeeded said.
    pub report: CommitReport,
    /// Why the last commit failed; `None` while all is well.
    pub trouble: Option<String>,
    /// Samples that a power cut would cost now.
    pub waiting: usize,
    /// The longest that a sample has waited to be made safe, since the start.
    pub longest_wait: Duration,
    /// Commands that did not fit into the queue, since the start.
    pub overrun: u64,
    /// Samples and records that the store refused as unfit, since the start.
    pub unfit: u64,
}

/// Sends to the store's thread. Cheap to clone. Nothing blocks but [`WriterHandle::flush`].
#[derive(Clone)]
pub struct WriterHandle {
    commands: SyncSender<Command>,
    status: Arc<Mutex<StoreStatus>>,
    feed: WaitingFeed,
    news: Arc<Mutex<Option<News>>>,
}

/// Puts a writer on a thread that makes safe what it takes at this pace ([`Pace::LIVE`] but for tests; monotonic time by
/// `clock`) and when asked, and closes the file when the last handle is dropped or [`WriterHandle::close`] is called.
///
/// # Errors
/// [`Error::Thread`] if the system has no thread to give.
pub fn spawn(mut writer: Writer, clock: Clock, pace: Pace) -> Result<(WriterHandle, JoinHandle<Result<CommitReport>>)> {
    let (commands, queue) = sync_channel(QUEUE);
    let status = Arc::new(Mutex::new(StoreStatus::default()));
    let feed = WaitingFeed::default();
    writer.lay_out_slate();
    feed.publish(writer.mark(), writer.waiting());
    let committed = clock.mono();
    let (news, heard) = unbounded_channel();
    let thread = Thread {
        writer,
        clock,
        pace,
        status: Arc::clone(&status),
        feed: feed.clone(),
        news,
        committed,
        oldest: None,
        counted: 0,
    };
    let joined = std::thread::Builder::new()
        .name("store".to_owned())
        .spawn(move || thread.run(&queue))
        .map_err(Error::Thread)?;
    let news = Arc::new(Mutex::new(Some(heard)));
    Ok((WriterHandle { commands, status, feed, news }, joined))
}

struct Thread {
    writer: Writer,
    clock: Clock,
    pace: Pace,
    status: Arc<Mutex<StoreStatus>>,
    feed: WaitingFeed,
    news: UnboundedSender<EventRecord>,
    /// When the last commit was tried.
    committed: MonoMs,
    /// When the first came of what is not safe yet.
    oldest: Option<MonoMs>,
    /// Bytes that the process had written when they were counted last; the first count is of all since it began.
    counted: u64,
}

impl Thread {
    fn run(mut self, queue: &Receiver<Command>) -> Result<CommitReport> {
        self.tell_found();
        loop {
            let left = u64::try_from(self.due() - self.clock.mono()).unwrap_or(0);
            let command = if left == 0 {
                Err(RecvTimeoutError::Timeout)
            } else {
                queue.recv_timeout(Duration::from_millis(left))
            };
            match command {
                Ok(Command::Close) | Err(RecvTimeoutError::Disconnected) => {
                    return self.close();
                }
                Ok(Command::Flush(reply)) => {
                    // Whoever asked may have gone meanwhile.
                    let _ = reply.send(self.make_safe(true));
                }
                Ok(Command::AtOnce(job)) => self.do_at_once(job),
                Ok(command) => {
                    self.oldest.get_or_insert(self.clock.mono());
                    self.take(command);
                }
                Err(RecvTimeoutError::Timeout) => {
                    let commit = self.clock.mono() - self.committed >= millis(self.pace.commit_every);
                    // A failure is kept in the status and logged once; the next turn tries again.
                    let _ = self.make_safe(commit);
                }
            }
        }
    }

    /// When something is to be done, if no command comes before.
    fn due(&self) -> MonoMs {
        let commit = self.committed + millis(self.pace.commit_every);
        self.oldest.map_or(commit, |oldest| commit.min(oldest + millis(self.pace.secure_after)))
    }

    fn take(&mut self, command: Command) {
        let taken = match command {
            Command::Append(series, sample) => self.mending(|writer| writer.append(series, &sample).map(drop)),
            // One command each, so that no commit comes between the parts.
            Command::Fix(fix, anchor) => {
                self.writer.fix(fix).and_then(|()| anchor.map_or(Ok(()), |anchor| self.writer.anchor(anchor)))
            }
            Command::Reconciled(series, points, done) => {
                self.mending(|writer| writer.reconciled(series, &points, done))
            }
            Command::Anchor(anchor) => self.writer.anchor(anchor),
            Command::Event(event) => self.writer.event(event),
            Command::ClockFix(boot, reading, kind) => self.writer.clock_fix(boot, reading, &kind),
            Command::Checkpoint(checkpoint) => self.writer.checkpoint(checkpoint),
            Command::Series(spec, reply) => {
                let _ = reply.send(self.writer.series(&spec));
                Ok(())
            }
            Command::SetAside(row) => self.set_aside(&row),
            Command::Flush(_) | Command::AtOnce(_) | Command::Close => Ok(()),
        };
        if let Err(error) = taken {
            let mut status = lock(&self.status);
            status.unfit += 1;
            if status.unfit == 1 {
                tracing::warn!(%error, "the store refuses what does not fit it; further ones are only counted");
            }
        }
    }

    /// What a commit costs is counted by the next one.
    fn count_written(&mut self) {
        if let (Some(boot), Some(bytes)) = (self.writer.live(), written::bytes_of_process()) {
            let more = bytes.saturating_sub(self.counted);
            self.counted = bytes;
            // The boot is the writer's own.
            let _ = self.writer.count_written(boot, self.clock.mono(), more);
        }
    }

    /// By a commit if `commit`, else at the least cost. Tells readers and the status what came of it.
    pub(super) fn make_safe(&mut self, commit: bool) -> Result<CommitReport> {
        let mark = self.writer.mark();
        self.count_written();
        let result = self.write(commit);
        let now = self.clock.mono();
        if commit || self.writer.mark() != mark {
            self.committed = now;
        }
        self.feed.publish(self.writer.mark(), self.writer.waiting());
        let waited = self.oldest.take().map_or(0, |oldest| now - oldest);
        let mut status = lock(&self.status);
        status.longest_wait = status.longest_wait.max(Duration::from_millis(u64::try_from(waited).unwrap_or(0)));
        status.waiting = self.writer.waiting_samples();
        match &result {
            Ok(report) => {
                status.report = *report;
                if let Some(trouble) = status.trouble.take() {
                    tracing::info!(%trouble, "the store writes again");
                }
            }
            Err(error) => {
                // What waits is still to be made safe.
                self.oldest = Some(now);
                let trouble = error.to_string();
                if status.trouble.as_ref() != Some(&trouble) {
                    tracing::error!(%error, "the store cannot write; it keeps what it holds and tries again");
                    status.trouble = Some(trouble);
                }
            }
        }
        result
    }
}

impl WriterHandle {
    /// What waits for a commit, for readers of this process ([`super::Reader::open_fed`]).
    #[must_use]
    pub fn feed(&self) -> WaitingFeed {
        self.feed.clone()
    }

    /// Sends a sample.
    ///
    /// # Errors
    /// [`Error::Stopped`]. A full queue is no error: the loss is counted in [`StoreStatus::overrun`].
    pub fn append(&self, series: SeriesId, sample: Sample) -> Result<()> {
        self.send(Command::Append(series, sample))
    }

    /// Sends a fix; with it, in the same commit, the anchor of the run that begins there.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn fix(&self, fix: FixRecord, anchor: Option<Anchor>) -> Result<()> {
        self.send(Command::Fix(fix, anchor))
    }

    /// Sends an anchor where reckoning begins anew.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn anchor(&self, anchor: Anchor) -> Result<()> {
        self.send(Command::Anchor(anchor))
    }

    /// [`Writer::reconciled`] through the queue.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn reconciled(&self, series: SeriesId, points: Vec<Sample>, done: Option<i64>) -> Result<()> {
        self.send(Command::Reconciled(series, points, done))
    }

    /// Sends an event.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn event(&self, event: EventRecord) -> Result<()> {
        self.send(Command::Event(event))
    }

    /// Sends a clock fix.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn clock_fix(&self, boot: BootNo, reading: WallReading, kind: &str) -> Result<()> {
        self.send(Command::ClockFix(boot, reading, kind.to_owned()))
    }

    /// Sends a checkpoint; it is committed with the samples sent before it.
    ///
    /// # Errors
    /// As [`WriterHandle::append`].
    pub fn checkpoint(&self, checkpoint: Checkpoint) -> Result<()> {
        self.send(Command::Checkpoint(checkpoint))
    }

    /// [`Writer::series`] through the queue.
    ///
    /// # Errors
    /// As there, or [`Error::Stopped`].
    pub async fn series(&self, spec: SeriesSpec) -> Result<SeriesId> {
        let (reply, answer) = oneshot::channel();
        self.commands.try_send(Command::Series(spec, reply)).map_err(|_| Error::Stopped)?;
        answer.await.map_err(|_| Error::Stopped)?
    }

    /// Commits what was sent so far. Waits until it is on the card; meanwhile other tasks go on.
    ///
    /// # Errors
    /// What the commit reports, or [`Error::Stopped`].
    pub async fn flush(&self) -> Result<CommitReport> {
        self.ask_flush()?.await.map_err(|_| Error::Stopped)?
    }

    /// [`WriterHandle::flush`] for threads; it must not be called from an asynchronous task.
    ///
    /// # Errors
    /// As [`WriterHandle::flush`].
    pub fn flush_blocking(&self) -> Result<CommitReport> {
        self.ask_flush()?.blocking_recv().map_err(|_| Error::Stopped)?
    }

    /// Tells the thread to commit, close the file and end, whatever other handles there are; join it to know how
    /// that went.
    ///
    /// # Errors
    /// [`Error::Stopped`] if it has ended already.
    pub fn close(&self) -> Result<()> {
        self.commands.send(Command::Close).map_err(|_| Error::Stopped)
    }

    /// How the store fares.
    #[must_use]
    pub fn status(&self) -> StoreStatus {
        lock(&self.status).clone()
    }

    fn ask_flush(&self) -> Result<oneshot::Receiver<Result<CommitReport>>> {
        let (reply, answer) = oneshot::channel();
        self.commands.send(Command::Flush(reply)).map_err(|_| Error::Stopped)?;
        Ok(answer)
    }

    fn send(&self, command: Command) -> Result<()> {
        match self.commands.try_send(command) {
            Ok(()) => Ok(()),
            Err(TrySendError::Disconnected(_)) => Err(Error::Stopped),
            Err(TrySendError::Full(_)) => {
                let mut status = lock(&self.status);
                status.overrun += 1;
                if status.overrun == 1 {
                    tracing::error!("the store cannot keep up; what does not fit its queue is lost and counted");
                }
                Ok(())
            }
        }
    }
}

fn millis(duration: Duration) -> i64 {
    i64::try_from(duration.as_millis()).unwrap_or(i64::MAX / 2)
}

/// The status is plain numbers: a thread that ended while it held the lock left nothing half done.
fn lock(status: &Mutex<StoreStatus>) -> std::sync::MutexGuard<'_, StoreStatus> {
    status.lock().unwrap_or_else(PoisonError::into_inner)
}
