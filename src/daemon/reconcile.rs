//! Reconciled history: after a fix, the run since the anchor before it is reckoned again from the store, and its closing
//! error distributed backwards.
//!
//! Anchors say what is to be done: each but the last of a line begins a run that ends at the next. They are stored with
//! the fix, and go in the commit that brings the run's points; a job that breaks off is done at the next start.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use tokio::sync::Notify;
use tokio_util::sync::CancellationToken;

use super::bank_line::{TRACK_EVERY_MS, series_of_bank};
use super::places::Places;
use super::records::rounded;
use super::saved::SavedState;
use super::sink::Sink;
use super::take_up::{spread, time_off};
use crate::battery::Bank;
use crate::quantity::{Moment, Sample, Timeline};
use crate::reckoning::{Reckoner, Reconciled, ResumeError, TimeOff, Traverse};
use crate::store::{Anchor, Error, Reader, Result, SeriesId, SeriesSpec, StoredAnchor, WriterHandle};

/// Marks that a run may have before what came so far is reconciled without the rest, so that memory stays bounded: more
/// than two months without a fix at one a minute (assumed).
const MOST_MARKS: usize = 100_000;
/// Samples between two looks at whether to stop.
const LOOK_EVERY: u64 = 4096;

/// The series that a bank's reconciled line is stored in.
#[must_use]
pub fn reconciled_spec(bank: &str) -> SeriesSpec {
    series_of_bank(bank, "reconciled", &["soc", "soc_low", "soc_high"])
}

/// A bank whose history is reconciled.
#[derive(Debug, Clone)]
pub struct Reconciling {
    /// The bank.
    pub bank: Bank,
    /// Series of its main device.
    pub main: SeriesId,
    /// Series of [`reconciled_spec`].
    pub reconciled: SeriesId,
}

/// Why a run cannot be reconciled.
#[derive(Debug, thiserror::Error)]
enum Unfit {
    #[error(transparent)]
    State(#[from] ResumeError),
    #[error(transparent)]
    Store(#[from] Error),
    #[error("the main device's series has no voltage_v and current_a")]
    NoChannels,
}

/// Reconciles every run of a bank that a committed fix has ended and that is not done yet, until `stop`.
///
/// # Errors
/// What the store reports; the run is still to be done then. A run that can never be done is logged and left as it was
/// reckoned.
pub fn catch_up(store_path: &Path, work: &Reconciling, sink: &mut impl Sink, stop: &CancellationToken) -> Result<()> {
    let reader = Reader::open(store_path)?;
    let anchors = reader.anchors(&work.bank.name)?;
    for (place, from) in anchors.iter().enumerate() {
        let next = anchors.get(place + 1).filter(|next| next.anchor.side == from.anchor.side);
        match next {
            Some(to) if to.anchor.fix.is_some() => match reconcile(&reader, work, (from, to), sink, stop) {
                Ok(true) => {}
                Ok(false) => return Ok(()),
                Err(Unfit::Store(error)) if error.is_transient() => return Err(error),
                Err(error) => {
                    tracing::warn!(bank = %work.bank.name, %error, "a run cannot be reconciled; it stays as reckoned");
                    sink.reconciled(work.reconciled, Vec::new(), Some(from.id))?;
                }
            },
            // The present run goes on.
            None if from.anchor.side.is_none() => {}
            // Reckoning began anew, or the trace that was brought in beside it has ended.
            _ => sink.reconciled(work.reconciled, Vec::new(), Some(from.id))?,
        }
    }
    reader.take_unreadable().into_iter().filter(|row| !row.aside).try_for_each(|row| sink.set_aside(row))
}

/// Reconciles one run; false if stopped before its end.
fn reconcile(
    reader: &Reader,
    work: &Reconciling,
    (begin, end): (&StoredAnchor, &StoredAnchor),
    sink: &mut impl Sink,
    stop: &CancellationToken,
) -> std::result::Result<bool, Unfit> {
    let channels = reader.series(work.main)?.channels;
    let places = Places::among(channels.iter().map(String::as_str)).ok_or(Unfit::NoChannels)?;
    let (from, to) = (&begin.anchor, &end.anchor);
    let timeline = reader.timeline()?;
    let mut run = Run::begin(resume(&work.bank, from)?, from, to.at);
    let samples = reader.run(work.main, from.at, to.at)?;
    for (sample, count) in samples.zip(0_u64..) {
        if count.is_multiple_of(LOOK_EVERY) && stop.is_cancelled() {
            return Ok(false);
        }
        run.take(&sample?.sample, &places, &timeline);
        if run.marks >= MOST_MARKS {
            sink.reconciled(work.reconciled, run.close(), None)?;
        }
    }
    let points = run.end(&resume(&work.bank, to)?, to.at);
    sink.reconciled(work.reconciled, points, Some(begin.id))?;
    Ok(true)
}

/// The reckoning at an anchor.
fn resume(bank: &Bank, anchor: &Anchor) -> std::result::Result<Reckoner, ResumeError> {
    SavedState::read(bank, anchor.version, &anchor.state)?.resume(bank, TimeOff::Known { seconds: 0.0 })
}

/// A run on its way from one anchor to the next.
struct Run {
    traverse: Traverse<Moment>,
    last: Moment,
    /// No sample has come yet.
    fresh: bool,
    marked: Option<Moment>,
    marks: usize,
    ends_at: Moment,
    /// Whether the last reading brought the fix that ends the run.
    fixed: bool,
}

impl Run {
    fn begin(reckoner: Reckoner, from: &Anchor, ends_at: Moment) -> Run {
        Run {
            traverse: Traverse::begin(reckoner),
            last: from.at,
            fresh: true,
            // At a fix, the run before has its last point.
            marked: from.fix.is_some().then_some(from.at),
            marks: 0,
            ends_at,
            fixed: false,
        }
    }

    fn take(&mut self, sample: &Sample, places: &Places, timeline: &Timeline) {
        let Some(reading) = places.reading(sample) else { return };
        if let Some(off) = self.unseen_before(sample.at, timeline) {
            self.traverse.time_off(off);
        }
        self.fresh = false;
        self.fixed = self.traverse.step(&reading).is_some();
        self.last = sample.at;
        let due = self
            .marked
            .is_none_or(|marked| marked.boot != sample.at.boot || sample.at.mono - marked.mono >= TRACK_EVERY_MS);
        if due && sample.at != self.ends_at {
            self.mark(sample.at);
        }
    }

    /// Time that nobody watched just before a sample: between boots, by the rule of the daemon's own start; and after the
    /// anchor, whose own sample the series should have. Within a boot the reckoning sees gaps by itself.
    fn unseen_before(&self, at: Moment, timeline: &Timeline) -> Option<TimeOff> {
        if at.boot != self.last.boot {
            return Some(time_off(timeline.utc(self.last), timeline.utc(at)));
        }
        let after_anchor = self.fresh && at.mono > self.last.mono;
        after_anchor.then(|| TimeOff::Known { seconds: at.mono.seconds_since(self.last.mono) })
    }

    fn mark(&mut self, at: Moment) {
        self.traverse.mark(at);
        self.marked = Some(at);
        self.marks += 1;
    }

    fn close(&mut self) -> Vec<Sample> {
        self.marks = 0;
        self.traverse.close().iter().map(point).collect()
    }

    /// Ends where the reckoning of that time was after its fix.
    fn end(mut self, after: &Reckoner, at: Moment) -> Vec<Sample> {
        if !self.fixed {
            // Somebody's fix is in no sample; and a restart may have kept a fix of that time from coming again.
            let state = after.report();
            self.traverse.hand_fix(state.soc, spread(&state));
        }
        self.mark(at);
        self.close()
    }
}

fn point(mark: &Reconciled<Moment>) -> Sample {
    Sample { at: mark.key, values: [mark.soc, mark.band.low, mark.band.high].map(rounded).to_vec() }
}

/// Reconciles what earlier runs of the daemon left, and then whenever a fix has come, until `stop`; tells `done` each time.
pub async fn watch(
    store_path: PathBuf,
    works: Vec<Reconciling>,
    store: WriterHandle,
    (fixed, done): (Arc<Notify>, Arc<Notify>),
    stop: CancellationToken,
) {
    let works = Arc::new(works);
    loop {
        let (path, works, mut sink, stopped) = (store_path.clone(), Arc::clone(&works), store.clone(), stop.clone());
        let job = tokio::task::spawn_blocking(move || {
            // Readers see what is committed.
            sink.flush_blocking()?;
            works.iter().try_for_each(|work| catch_up(&path, work, &mut sink, &stopped))
        });
        match job.await {
            Ok(Ok(())) => {}
            Ok(Err(error)) => {
                tracing::warn!(%error, "the history is not reconciled yet; it will be after the next fix")
            }
            Err(error) => tracing::error!(%error, "reconciling the history broke off"),
        }
        done.notify_one();
        if stop.run_until_cancelled(fixed.notified()).await.is_none() {
            return;
        }
    }
}
