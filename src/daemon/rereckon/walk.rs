//! A line of boots through the reckoning, stretch by stretch.

use std::ops::ControlFlow;
use std::path::Path;
use std::vec;

use tokio_util::sync::CancellationToken;

use super::draft::Draft;
use super::plan::{Act, Line};
use super::{Progress, Unread, Watch};
use crate::daemon::bank_line::BankLine;
use crate::daemon::reconcile::{Reconciling, catch_up};
use crate::daemon::take_up::time_off;
use crate::quantity::{Channel, Moment, MonoMs, Sample, Timeline};
use crate::store::codec::Columns;
use crate::store::{Reader, Result, Stretch};

/// Anchors between two commits; each holds a state of some ten thousand bytes until its run is reconciled.
const ANCHORS_PER_COMMIT: usize = 32;

/// What the reckoning needs of a sample, in this order.
pub const CHANNELS: [&str; 3] = [Channel::VOLTAGE, Channel::CURRENT, Channel::TEMPERATURE];

/// What all lines of a bank have in common.
pub struct Course<'a> {
    pub reader: &'a Reader,
    pub store_path: &'a Path,
    pub timeline: &'a Timeline,
    /// All stretches of the main device, in the order of boot and monotonic time.
    pub stretches: &'a [Stretch],
    /// Positions of [`CHANNELS`] in them.
    pub places: [Option<usize>; 3],
    /// The bank under the draft's name, and where its reconciled line goes.
    pub work: Reconciling,
}

/// A line on its way.
pub struct Walk<'a, 'w> {
    pub course: &'a Course<'a>,
    pub line: BankLine,
    pub draft: Draft<'w>,
    pub progress: &'a mut Progress,
    pub unread: &'a mut Unread,
    pub watch: &'a mut Watch<'a>,
    pub acts: std::iter::Peekable<vec::IntoIter<(Moment, Act)>>,
    /// The last sample reckoned.
    pub last: Option<Moment>,
    /// Samples since the last commit.
    pub fresh: u64,
    /// Samples between two commits.
    pub samples_per_commit: u64,
}

/// The stretches of a line that may hold something to be reckoned.
pub fn stretches_of<'a>(all: &'a [Stretch], line: &'a Line) -> impl Iterator<Item = &'a Stretch> {
    line.boots.iter().flat_map(move |(boot, _)| {
        let from = all.partition_point(|stretch| stretch.first.boot < *boot);
        let of_boot = &all[from..from + all[from..].partition_point(|stretch| stretch.first.boot == *boot)];
        // The one before the first that begins later reaches up to it.
        let later = of_boot.partition_point(|stretch| stretch.first <= line.begin && *boot == line.begin.boot);
        &of_boot[later.saturating_sub(1)..]
    })
}

/// A value of a row; `None` where there is none.
pub fn value(columns: &Columns, place: Option<usize>, row: usize) -> Option<f64> {
    columns.channels.get(place?)?.get(row).copied().filter(|value| !value.is_nan())
}

impl Walk<'_, '_> {
    /// Reckons a line to its end.
    pub fn through(mut self, line: &Line) -> Result<ControlFlow<()>> {
        let mut sample = Sample { at: line.begin, values: Vec::with_capacity(CHANNELS.len()) };
        for stretch in stretches_of(self.course.stretches, line) {
            self.progress.done += stretch.count;
            self.fresh += stretch.count;
            let places = self.course.places;
            let Some(columns) = self.course.reader.unpack(stretch, |place| places.contains(&Some(place)))? else {
                // Nobody was watching; a gap that long is none to bridge, and the reckoning sees it by itself.
                self.unread.stretches += 1;
                self.unread.samples += stretch.count;
                continue;
            };
            let trace = line.boots.contains(&(stretch.first.boot, true));
            for (row, &time) in columns.time_ms.iter().enumerate() {
                sample.at = Moment { boot: stretch.first.boot, mono: MonoMs(time) };
                if sample.at.boot == line.begin.boot && sample.at < line.begin {
                    continue;
                }
                sample.values.clear();
                sample.values.extend(places.map(|place| value(&columns, place, row)));
                self.take(&sample, trace)?;
            }
            if self.fresh >= self.samples_per_commit || self.draft.anchors >= ANCHORS_PER_COMMIT {
                self.settle()?;
            }
            if (self.watch)(self.progress).is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        self.act_before(None)?;
        self.line.save(&mut self.draft)?;
        self.settle()?;
        Ok((self.watch)(self.progress))
    }

    fn take(&mut self, sample: &Sample, trace: bool) -> Result<()> {
        self.act_before(Some(sample.at))?;
        let timeline = self.course.timeline;
        let placed = timeline.utc(sample.at);
        if let Some(last) = self.last.filter(|last| last.boot != sample.at.boot) {
            self.line.time_off(time_off(timeline.utc(last), placed));
            if trace {
                // It was brought in by itself: no run was reconciled across its beginning.
                self.line.begin_run();
            }
        }
        let Some(placed) = placed else { return Ok(()) };
        self.line.take(sample, placed.utc, &mut self.draft)?;
        self.last = Some(sample.at);
        Ok(())
    }

    /// Does by hand again what was done before the next sample.
    fn act_before(&mut self, next: Option<Moment>) -> Result<()> {
        while let Some((at, act)) = self.acts.next_if(|(at, _)| next.is_none_or(|next| *at < next)) {
            let done = match (act, self.course.timeline.utc(at)) {
                (Act::Zero, _) => self.line.zero_by_hand(&mut self.draft).is_ok(),
                (Act::Fix { soc, std_dev }, Some(placed)) => {
                    self.line.fix_by_hand(soc, std_dev, placed.utc, &mut self.draft).is_ok()
                }
                (Act::Fix { .. }, None) => false,
            };
            self.unread.acts += u64::from(!done);
        }
        Ok(())
    }

    /// Commits what has come, and reconciles the runs that have ended.
    fn settle(&mut self) -> Result<()> {
        self.draft.writer.commit()?;
        self.fresh = 0;
        if self.draft.anchors > 0 {
            self.draft.anchors = 0;
            catch_up(self.course.store_path, &self.course.work, &mut self.draft, &CancellationToken::new())?;
            // Runs that are done must not be found again.
            self.draft.writer.commit()?;
        }
        Ok(())
    }
}
