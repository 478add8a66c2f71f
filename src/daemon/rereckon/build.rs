//! The draft of a bank's results: what stays, and what is reckoned anew.

use std::ops::ControlFlow;
use std::path::Path;

use super::draft::Draft;
use super::plan::{Line, Plan};
use super::walk::{self, CHANNELS, Course, Walk, stretches_of};
use super::{Progress, Rereckoning, Unread, Watch, series_of};
use crate::battery::Bank;
use crate::daemon::bank_line::{BankLine, track_spec};
use crate::daemon::reconcile::{Reconciling, reconciled_spec};
use crate::quantity::{Channel, Moment, MonoMs};
use crate::reckoning::Reckoner;
use crate::store::{Reader, Result, SeriesId, SeriesInfo, SeriesSpec, Writer, draft_of};

/// Points between two commits while results that stay are copied.
const POINTS_PER_COMMIT: usize = 100_000;

/// The draft on its way.
pub struct Build<'a> {
    pub job: &'a Rereckoning<'a>,
    pub reader: &'a Reader,
    pub path: &'a Path,
    pub main: &'a SeriesInfo,
    pub plan: &'a Plan,
    pub writer: &'a mut Writer,
    pub unread: &'a mut Unread,
}

impl Build<'_> {
    /// Builds all of it; stopped by the watcher, it leaves what it has.
    pub fn all(&mut self, progress: &mut Progress, watch: &mut Watch<'_>) -> Result<ControlFlow<()>> {
        let bank = &self.job.bank.name;
        let track = self.begin(track_spec(bank), progress, watch)?;
        let reconciled = self.begin(reconciled_spec(bank), progress, watch)?;
        let (ControlFlow::Continue(track), ControlFlow::Continue(reconciled)) = (track, reconciled) else {
            return Ok(ControlFlow::Break(()));
        };
        let stretches = self.reader.stretches(self.main.id)?;
        let (reader, timeline) = (self.reader, self.reader.timeline()?);
        let course = Course {
            reader,
            store_path: self.path,
            timeline: &timeline,
            stretches: &stretches,
            places: CHANNELS.map(|name| self.main.channels.iter().position(|channel| channel == name)),
            work: Reconciling {
                bank: Bank { name: draft_of(bank), ..self.job.bank.clone() },
                main: self.main.id,
                reconciled,
            },
        };
        let lines = self.plan.lines.iter();
        progress.total = lines.flat_map(|line| stretches_of(&stretches, line)).map(|stretch| stretch.count).sum();
        for line in &self.plan.lines {
            if self.walk(&course, line, track, progress, watch)?.is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        Ok(ControlFlow::Continue(()))
    }

    /// Begins a series of the draft with the points that stay.
    fn begin(
        &mut self,
        spec: SeriesSpec,
        progress: &Progress,
        watch: &mut Watch<'_>,
    ) -> Result<ControlFlow<(), SeriesId>> {
        let spec = SeriesSpec { bank: draft_of(&spec.bank), ..spec };
        let id = self.writer.series(&spec)?;
        let Some(old) = series_of(self.reader, &self.job.bank.name, &spec.name)? else {
            return Ok(ControlFlow::Continue(id));
        };
        let place = |channel: &Channel| old.channels.iter().position(|name| name == channel.name());
        let places: Vec<Option<usize>> = spec.channels.iter().map(place).collect();
        let mut fresh = 0;
        for stretch in self.reader.stretches(old.id)? {
            if self.plan.renews(stretch.first) {
                continue;
            }
            let Some(columns) = self.reader.unpack(&stretch, |_| true)? else {
                self.unread.stretches += 1;
                continue;
            };
            for (row, &time) in columns.time_ms.iter().enumerate() {
                let at = Moment { mono: MonoMs(time), ..stretch.first };
                if self.plan.renews(at) {
                    break;
                }
                let value = |place: &Option<usize>| walk::value(&columns, *place, row);
                let values: Vec<_> = places.iter().map(value).collect();
                self.writer.append_values(id, at, &values)?;
                fresh += 1;
            }
            if fresh >= POINTS_PER_COMMIT {
                fresh = 0;
                self.writer.commit()?;
                if watch(progress).is_break() {
                    return Ok(ControlFlow::Break(()));
                }
            }
        }
        Ok(ControlFlow::Continue(id))
    }

    fn walk(
        &mut self,
        course: &Course<'_>,
        line: &Line,
        track: SeriesId,
        progress: &mut Progress,
        watch: &mut Watch<'_>,
    ) -> Result<ControlFlow<()>> {
        let reckoner = Reckoner::begin(self.job.method, self.job.bank.clone(), line.start);
        let channels = CHANNELS.map(|name| Channel::try_new(name).expect("fixed names are channel names"));
        let bank_line = BankLine::new(reckoner, &channels, self.main.id, track)
            .expect("voltage and current are among the channels")
            .saving_every(line.own.then_some(i64::MAX));
        let draft = Draft { writer: &mut *self.writer, main: self.main.id, plan: self.plan, anchors: 0 };
        let walk = Walk {
            course,
            line: bank_line,
            draft,
            progress,
            unread: &mut *self.unread,
            watch,
            acts: line.acts.clone().into_iter().peekable(),
            last: None,
            fresh: 0,
            samples_per_commit: self.job.samples_per_commit,
        };
        let walked = walk.through(line)?;
        if walked.is_continue() && !line.own {
            // The trace has ended, and with it its last run, which no fix has.
            for left in self.writer.anchors(&course.work.bank.name)? {
                self.writer.reconciled(course.work.reconciled, &[], Some(left.id))?;
            }
            self.writer.commit()?;
        }
        Ok(walked)
    }
}
