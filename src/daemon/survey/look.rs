//! A look at a bank's samples from where the last one ended.

use serde::{Deserialize, Serialize};
use tokio_util::sync::CancellationToken;

use super::asked::text_of;
use super::course::{Course, Place};
use super::instruments::Instruments;
use super::walk::{Stretch, Walk};
use super::watches::{Eyes, Made, Watches};
use super::{Looked, Shelf, Surveyed, Surveying};
use crate::health::Told;
use crate::quantity::{MINUTE_MS, Moment, MonoMs};
use crate::store::{Error, EventRecord, Reader, Result, SurveyBatch, SurveyState};

/// Form of the saved state. Another one, and everything is looked at again.
const VERSION: i64 = 2;
/// What is kept together: a week, ms.
const BATCH_MS: i64 = 7 * 86_400_000;
/// A minute is complete once the main device's samples reach so far beyond it: other devices' samples of it are in by
/// then, ms.
const SETTLED_MS: i64 = 5_000;

/// The saved state.
#[derive(Serialize, Deserialize)]
pub struct State {
    /// What was looked at by which description.
    of: u32,
    place: Place,
    /// Where the last minute ended.
    end: Option<Moment>,
    watches: Watches,
}

impl State {
    /// As the store has it; `None` if nothing was looked at yet, or it is of another form.
    pub fn stored(reader: &Reader, bank: &str) -> Result<Option<State>> {
        let stored = reader.survey(bank)?.filter(|stored| stored.version == VERSION);
        Ok(stored.and_then(|stored| serde_json::from_str(&stored.state).ok()))
    }

    /// Up to where the bank's samples were looked at.
    pub const fn at(&self) -> Moment {
        self.place.at
    }
}

/// What a look works with.
pub struct Look<'a> {
    pub reader: &'a Reader,
    pub work: &'a Surveying,
    pub instruments: &'a Instruments,
    pub stop: &'a CancellationToken,
}

impl Look<'_> {
    /// The order in which the bank lived its samples.
    pub fn course(&self) -> Result<Course> {
        let main = self.instruments.main.series.id;
        let timeline = self.reader.timeline()?;
        Course::new(&self.reader.boot_spans(main)?, &timeline, &mut |boot, from, to| {
            Ok(self.reader.boot_columns(main, boot, from, to)?.advance()?.is_some())
        })
    }

    /// Looks at everything that is new; gives up to where. `None` if it was stopped or there is nothing.
    pub fn all(
        &self,
        course: &Course,
        shelf: &mut impl Shelf,
        surveyed: &mut Surveyed,
        progress: &mut dyn FnMut(&Looked),
    ) -> Result<Option<Moment>> {
        let Some(begin) = course.begin() else {
            surveyed.complete = true;
            return Ok(None);
        };
        let of = self.fingerprint();
        let bank = &self.work.bank.name;
        let known = State::stored(self.reader, bank)?;
        let mut state = match known.filter(|state| state.of == of && course.at(&state.place).is_some()) {
            Some(state) => state,
            None => {
                if self.reader.survey(bank)?.is_some() {
                    shelf.forget_survey(bank)?;
                    surveyed.anew = true;
                }
                State { of, place: begin, end: None, watches: Watches::new(&self.work.aboard()) }
            }
        };
        state.watches.trials.take_up(&self.reader.tests(bank)?);
        let (total_ms, before_ms) = (course.length_ms(None), course.length_ms(Some(&state.place)));
        while let Some((stretch, next)) = next_stretch(course, &state.place) {
            if self.stop.is_cancelled() {
                return Ok(None);
            }
            let Some((end, made)) = self.walk(stretch, &mut state)? else { return Ok(None) };
            (state.end, state.place) = (end, next);
            self.keep(&state, made, shelf, surveyed)?;
            let done_ms = course.length_ms(Some(&state.place));
            surveyed.looked_ms = done_ms.saturating_sub(before_ms);
            progress(&Looked { done_ms, total_ms });
        }
        surveyed.testing = state.watches.trials.any();
        Ok(Some(state.place.at))
    }

    fn walk(&self, stretch: Stretch, state: &mut State) -> Result<Option<(Option<Moment>, Made)>> {
        let Look { reader, work, instruments, stop } = *self;
        let mut eyes = Eyes { work, watches: &mut state.watches, made: Made::default() };
        let walked = Walk { reader, work, instruments, eyes: &mut eyes, stop }.through(stretch, state.end)?;
        let mut made = eyes.made;
        state.watches.trials.standing(&mut made);
        Ok(walked.map(|end| (end, made)))
    }

    fn keep(&self, state: &State, made: Made, shelf: &mut impl Shelf, surveyed: &mut Surveyed) -> Result<()> {
        let text = serde_json::to_string(state).ok().filter(|text| serde_json::from_str::<State>(text).is_ok());
        // A number that is not finite has no place in JSON: a fault of a watch. Better told than looked at for ever.
        let text = text.ok_or_else(|| Error::Unkept("the state of the survey".to_owned()))?;
        let bank = &self.work.bank.name;
        let events: Vec<EventRecord> = made.out.told.into_iter().map(|told| event(bank, told)).collect();
        let tests = made.tests.into_iter().map(|(id, state, body)| Ok((id, state, text_of(&body)?)));
        let tests = tests.collect::<Result<_>>()?;
        surveyed.events.extend(events.iter().cloned());
        shelf.keep_survey(SurveyBatch {
            bank: bank.clone(),
            state: SurveyState { at: state.place.at, version: VERSION, state: text },
            findings: made.out.findings,
            passages: made.passages,
            events,
            tests,
        })
    }

    /// A checksum of the description that the watches go by.
    fn fingerprint(&self) -> u32 {
        let Surveying { bank, branches, rules, main } = self.work;
        let Instruments { monoblocs, branches: measured, .. } = self.instruments;
        crc32fast::hash(format!("{bank:?} {branches:?} {rules:?} {main} {monoblocs} {measured}").as_bytes())
    }
}

/// What is to be looked at next, and the place after it; `None` if nothing is complete there.
fn next_stretch(course: &Course, place: &Place) -> Option<(Stretch, Place)> {
    let mut place = *place;
    loop {
        let piece = course.at(&place)?;
        let whole = |mono: i64| MonoMs(mono.div_euclid(MINUTE_MS) * MINUTE_MS);
        let limit = if course.is_open(&place) { whole(piece.to.0 - 1 - SETTLED_MS) } else { piece.to };
        if place.at.mono >= limit {
            // One that is open is the last one.
            place = course.next(&place)?;
            continue;
        }
        let to = whole(place.at.mono.0.saturating_add(BATCH_MS)).min(limit);
        let stretch = Stretch { boot: place.at.boot, from: place.at.mono, to };
        return Some((stretch, Course::further(&place, to)));
    }
}

fn event(bank: &str, Told { at, kind, priority, text }: Told) -> EventRecord {
    EventRecord {
        at,
        bank: Some(bank.to_owned()),
        device: None,
        kind: kind.to_owned(),
        priority: priority.to_owned(),
        text,
    }
}
