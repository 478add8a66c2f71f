//! A bank's stored samples reckoned again, after a better version or a corrected description of the bank.
//!
//! The results are built beside the old ones, under the draft's name ([`crate::store::draft_of`]), by the same
//! [`BankLine`](super::BankLine) and the same reconciling as live, and replace them as a whole once they are complete. Whatever cuts that short leaves
//! the old ones; the next time begins anew. [`plan`] says what is reckoned in which order. What the samples do not tell is
//! repeated as it was written down: charges stated by hand, with the value and the band that the reckoning had after them,
//! and settings of the sensor's zero. What the old reckoning called out stays told, and nothing is called out now.
//!
//! Two things differ from what ran live, on the same samples and by the same description. A restart of the daemon within a
//! boot of the computer is seen as what it left, a gap between samples. And time off between boots ends at the first
//! sample after it, not at the daemon's start a little before.

mod build;
mod draft;
mod plan;
mod walk;

use std::ops::ControlFlow;
use std::path::Path;

use tokio_util::sync::CancellationToken;

pub use plan::Wish;

use super::bank_line::track_spec;
use super::reconcile::{Reconciling, catch_up, reconciled_spec};
use crate::battery::Bank;
use crate::quantity::{Band, BandedSoc, Moment, UtcMs};
use crate::reckoning::Method;
use crate::store::{Reader, Result, SeriesId, SeriesInfo, Writer, draft_of, replaced_of};
use build::Build;
use plan::{Known, Plan};

/// Samples between two commits that suit a card: nearly six days at 1 Hz, of which a point a minute is stored.
pub const SAMPLES_PER_COMMIT: u64 = 500_000;

/// What is to be reckoned again.
#[derive(Debug, Clone, Copy)]
pub struct Rereckoning<'a> {
    /// The bank, as it is described now.
    pub bank: &'a Bank,
    /// The method.
    pub method: Method,
    /// Name of the series of its main device.
    pub main: &'a str,
    /// From when on, and from what start.
    pub wish: Wish,
    /// Samples between two commits; [`SAMPLES_PER_COMMIT`] but for tests.
    pub samples_per_commit: u64,
}

/// How far the work is.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Progress {
    /// Samples reckoned.
    pub done: u64,
    /// Samples to be reckoned.
    pub total: u64,
}

/// Told of the progress after each stretch and each commit; it may stop the work there, as a power cut would.
pub type Watch<'a> = dyn FnMut(&Progress) -> ControlFlow<()> + 'a;

/// What could not be taken into account.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Unread {
    /// Stored stretches, of samples or of results that were to stay, that cannot be read: over samples nobody was watching.
    pub stretches: u64,
    /// Samples in them.
    pub samples: u64,
    /// Hand fixes and settings of the zero that the reckoning would not take.
    pub acts: u64,
}

/// Results as they stand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Standing {
    /// How many fixes there are, of all kinds.
    pub fixes: usize,
    /// The charge and the learned capacity, Ah, at the last point of the track; `None` without a track.
    pub latest: Option<(BandedSoc, f64)>,
}

/// What came of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Report {
    /// Samples reckoned.
    pub samples: u64,
    /// What is missing from them.
    pub unread: Unread,
    /// The results before.
    pub before: Standing,
    /// The results now.
    pub after: Standing,
}

/// How it ended.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Ended {
    /// There are no samples to be reckoned; everything is as it was.
    Nothing,
    /// The watcher stopped it.
    Stopped,
    /// The results are replaced.
    Done(Report),
}

/// Reckons a bank's samples again and replaces its results. Nobody else may write to the store meanwhile.
///
/// # Errors
/// What the store reports. The results are the old ones then, unless only the removal of what was replaced failed, which
/// the next time makes good.
pub fn rereckon(job: &Rereckoning<'_>, writer: &mut Writer, path: &Path, watch: &mut Watch<'_>) -> Result<Ended> {
    // Open stretches of earlier boots become chunks before anybody counts them.
    writer.commit()?;
    let bank = &job.bank.name;
    let mut progress = Progress::default();
    for name in [draft_of(bank), replaced_of(bank)] {
        if clear(writer, &name, &progress, watch)?.is_break() {
            return Ok(Ended::Stopped);
        }
    }
    let reader = Reader::open(path)?;
    let Some(main) = series_of(&reader, bank, job.main)? else { return Ok(Ended::Nothing) };
    if job.wish.from.is_some() {
        finish_old_runs(&reader, job.bank, main.id, writer, path)?;
    }
    let plan = plan_of(&reader, job, main.id)?;
    if plan.lines.is_empty() {
        return Ok(Ended::Nothing);
    }
    let before = standing(&reader, bank)?;
    let mut unread = Unread::default();
    let mut built = Build { job, reader: &reader, path, main: &main, plan: &plan, writer, unread: &mut unread };
    match built.all(&mut progress, watch) {
        Ok(ControlFlow::Continue(())) => {}
        Ok(ControlFlow::Break(())) => return Ok(Ended::Stopped),
        Err(error) => {
            // A full card is not left fuller; what cannot be removed now is removed by the next run.
            let _ = clear(writer, &draft_of(bank), &progress, &mut |_| ControlFlow::Continue(()));
            return Err(error);
        }
    }
    let renewed: Vec<Moment> = plan.renewed.iter().map(|(&boot, &mono)| Moment { boot, mono }).collect();
    writer.replace_results(bank, &renewed)?;
    if clear(writer, &replaced_of(bank), &progress, watch)?.is_break() {
        return Ok(Ended::Stopped);
    }
    let samples = progress.total - unread.samples.min(progress.total);
    Ok(Ended::Done(Report { samples, unread, before, after: standing(&reader, bank)? }))
}

fn clear(writer: &mut Writer, name: &str, progress: &Progress, watch: &mut Watch<'_>) -> Result<ControlFlow<()>> {
    while writer.clear_results(name)? {
        if watch(progress).is_break() {
            return Ok(ControlFlow::Break(()));
        }
    }
    Ok(ControlFlow::Continue(()))
}

fn series_of(reader: &Reader, bank: &str, name: &str) -> Result<Option<SeriesInfo>> {
    Ok(reader.all_series()?.into_iter().find(|series| series.bank == bank && series.name == name))
}

/// Runs that a kill kept from being reconciled are among what stays before `from`.
fn finish_old_runs(reader: &Reader, bank: &Bank, main: SeriesId, writer: &mut Writer, path: &Path) -> Result<()> {
    let Some(reconciled) = series_of(reader, &bank.name, &reconciled_spec(&bank.name).name)? else { return Ok(()) };
    writer.series(&reconciled_spec(&bank.name))?;
    let work = Reconciling { bank: bank.clone(), main, reconciled: reconciled.id };
    catch_up(path, &work, writer, &CancellationToken::new())
}

fn plan_of(reader: &Reader, job: &Rereckoning<'_>, main: SeriesId) -> Result<Plan> {
    let (bank, ever) = (&job.bank.name, (UtcMs(i64::MIN), UtcMs(i64::MAX)));
    let known = Known {
        timeline: &*reader.timeline()?,
        last: reader.last_moments(main)?,
        imported: reader.imported_boots()?.into_iter().collect(),
        fixes: reader.fixes(bank, ever.0, ever.1, usize::MAX)?,
        events: reader.events(Some(bank), ever.0, ever.1, usize::MAX)?,
    };
    Ok(Plan::new(&known, job.wish))
}

/// The results of a bank as they are committed now.
fn standing(reader: &Reader, bank: &str) -> Result<Standing> {
    let fixes = reader.fixes(bank, UtcMs(i64::MIN), UtcMs(i64::MAX), usize::MAX)?.len();
    let Some(track) = series_of(reader, bank, &track_spec(bank).name)? else {
        return Ok(Standing { fixes, latest: None });
    };
    let Some((_, last)) = reader.reach(track.id)? else { return Ok(Standing { fixes, latest: None }) };
    let point = reader.samples(track.id, last, UtcMs(last.0 + 1))?.last().transpose()?;
    let value = |name: &str| {
        let place = track.channels.iter().position(|channel| channel == name)?;
        point.as_ref()?.sample.values.get(place).copied().flatten()
    };
    let latest = (|| {
        let band = Band { low: value("soc_low")?, high: value("soc_high")? };
        Some((BandedSoc { soc: value("soc")?, band }, value("capacity_ah")?))
    })();
    Ok(Standing { fixes, latest })
}

#[cfg(test)]
mod tests;
