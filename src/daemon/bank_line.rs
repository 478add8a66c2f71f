//! One bank's way from samples to records: stored, reckoned, tracked and saved once a minute.

use super::places::Places;
use super::records;
use super::saved::{STATE_VERSION, SavedState};
use super::sink::Sink;
use crate::battery::Bank;
use crate::clock::When;
use crate::http::{LiveBank, LiveReading};
use crate::quantity::{BootNo, Channel, Moment, MonoMs, Sample, UtcMs};
use crate::reckoning::{Fix, FixKind, Reckoner, Since, SinceWhen, TimeOff};
use crate::store::{Anchor, Checkpoint, EventRecord, Result, SeriesId, SeriesKind, SeriesSpec};

/// The reckoned track is stored this often, ms.
pub const TRACK_EVERY_MS: i64 = 60_000;
/// Track points further apart than this have a gap between them, ms.
const TRACK_GAP_MS: i64 = 180_000;

/// How often the state is saved while live, ms: a start takes up the samples since then from the store, and a state is
/// large beside what a few seconds of samples are.
pub const SAVE_LIVE_EVERY_MS: i64 = 60_000;
/// How often the state is saved while a recorded past is stored, ms: it is wanted at the end, and after a start that
/// broke off.
pub const SAVE_PAST_EVERY_MS: i64 = 3_600_000;

/// The series that a bank's reckoned track is stored in.
#[must_use]
pub fn track_spec(bank: &str) -> SeriesSpec {
    series_of_bank(bank, "reckoning", &["soc", "soc_low", "soc_high", "capacity_ah"])
}

/// A series of a bank's own, with a point a minute.
pub fn series_of_bank(bank: &str, what: &str, channels: &[&str]) -> SeriesSpec {
    SeriesSpec {
        name: format!("{bank}-{what}"),
        kind: SeriesKind::Reckoning,
        bank: bank.to_owned(),
        channels: channels.iter().map(|name| Channel::try_new(name).expect("fixed names are channel names")).collect(),
        gap_ms: TRACK_GAP_MS,
    }
}

/// What came of a sample.
#[derive(Debug, Default)]
pub struct Taken {
    /// A fix that it brought.
    pub fix: Option<Fix>,
    /// What people are to be told, stored already.
    pub event: Option<EventRecord>,
}

/// What came of a hand order; the error is for people.
type Ordered<T> = std::result::Result<T, String>;

/// Hand orders speak of the latest sample.
const NOTHING_HEARD: &str = "nothing has been heard from the bank's sensor since the start; try again once it is";

/// A bank at work.
#[derive(Debug)]
pub struct BankLine {
    reckoner: Reckoner,
    places: Places,
    series: SeriesId,
    track: SeriesId,
    tracked: Option<MonoMs>,
    saved: Option<MonoMs>,
    last: Option<Moment>,
    last_fix: Option<(FixKind, When, String)>,
    save_every_ms: Option<i64>,
    since: Since,
    /// Whether the store holds where the present run begins.
    anchored: bool,
    side: Option<BootNo>,
}

impl BankLine {
    /// A bank whose main device has these channels; `None` if voltage or current is not among them.
    #[must_use]
    pub fn new(reckoner: Reckoner, channels: &[Channel], series: SeriesId, track: SeriesId) -> Option<BankLine> {
        Some(BankLine {
            reckoner,
            places: Places::among(channels.iter().map(Channel::name))?,
            series,
            track,
            tracked: None,
            saved: None,
            last: None,
            last_fix: None,
            save_every_ms: Some(SAVE_LIVE_EVERY_MS),
            since: Since::default(),
            anchored: false,
            side: None,
        })
    }

    /// Says what corrected the reckoning last, as the store remembers it.
    #[must_use]
    pub fn with_last_fix(mut self, fix: Option<(FixKind, When, String)>) -> BankLine {
        self.last_fix = fix;
        self
    }

    /// Saves the state this often, ms of samples, instead of [`SAVE_LIVE_EVERY_MS`]; never if the store already holds a
    /// later state.
    #[must_use]
    pub const fn saving_every(mut self, every_ms: Option<i64>) -> BankLine {
        self.save_every_ms = every_ms;
        self
    }

    /// Goes on with what was saved: since when it knows what it learned, and whether the store holds where the present
    /// run begins. Otherwise a run begins with the first sample.
    #[must_use]
    pub const fn going_on(mut self, since: Since, anchored: bool) -> BankLine {
        self.since = since;
        self.anchored = anchored;
        self
    }

    /// A trace of this boot, brought in beside the bank's present reckoning.
    #[must_use]
    pub const fn beside(mut self, boot: BootNo) -> BankLine {
        self.side = Some(boot);
        self
    }

    /// Nobody was watching between the last sample and the next: the band is wider, and the track begins with the next, as
    /// after a start of the daemon.
    pub fn time_off(&mut self, off: TimeOff) {
        self.reckoner.run_on(off);
        self.reckoner.time_off(off);
        self.tracked = None;
        self.saved = None;
    }

    /// A run of its own begins with the next sample.
    pub const fn begin_run(&mut self) {
        self.anchored = false;
    }

    /// The bank.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        self.reckoner.bank()
    }

    /// Takes a sample of the main device: stores it, reckons, and stores what came of it. A sample without voltage or
    /// current is stored and not reckoned. One that the store has already is reckoned, and what came of it then is there.
    ///
    /// # Errors
    /// If the store refuses a record; the reckoning has gone on all the same.
    pub fn take(&mut self, sample: &Sample, utc: UtcMs, sink: &mut impl Sink) -> Result<Taken> {
        let stored = sink.sample(self.series, sample);
        let Some(reading) = self.places.reading(sample) else { return stored.map(|_| Taken::default()) };
        // Only a bank that is held full can be let go.
        let held = self.reckoner.held_full().then(|| self.reckoner.report());
        let fix = self.reckoner.step(&reading);
        self.last = Some(sample.at);
        if matches!(stored, Ok(false)) {
            return Ok(Taken::default());
        }
        if !self.anchored {
            self.anchored = true;
            sink.anchor(self.anchor(sample.at, None))?;
        }
        if let Some(fix) = &fix {
            self.note_fix(fix, utc, sink)?;
        }
        match held {
            Some(_) if self.reckoner.held_full() => {
                self.last_fix = Some((FixKind::Full, When::Running(sample.at.mono), records::HELD_FULL.to_owned()));
            }
            Some(before) => sink.fix(records::let_go_record(self.bank(), sample.at, &before), None)?,
            None => {}
        }
        let suspicion = self.reckoner.take_suspicion();
        let event = suspicion.map(|found| records::suspicion_event(self.bank(), sample.at, found));
        if let Some(event) = &event {
            sink.event(event.clone())?;
        }
        if fix.is_none() && due(self.tracked, sample.at.mono, TRACK_EVERY_MS) {
            self.track(sample.at, utc, sink)?;
        }
        if self.save_every_ms.is_some_and(|every_ms| due(self.saved, sample.at.mono, every_ms)) {
            self.save(sink)?;
        }
        stored.map(|_| Taken { fix, event })
    }

    /// Somebody knows the state of charge as of the last sample, to `std_dev` (1 σ, ratio). Says what was done.
    ///
    /// # Errors
    /// Why it could not be done, for people.
    pub fn fix_by_hand(&mut self, soc: f64, std_dev: f64, utc: UtcMs, sink: &mut impl Sink) -> Ordered<String> {
        self.last.ok_or(NOTHING_HEARD)?;
        let fix = self.reckoner.hand_fix(soc, std_dev);
        self.note_fix(&fix, utc, sink).map_err(|error| error.to_string())
    }

    /// Somebody knows that no current flows at the last sample. Gives the event that says so.
    ///
    /// # Errors
    /// Why it could not be done, for people.
    pub fn zero_by_hand(&mut self, sink: &mut impl Sink) -> Ordered<EventRecord> {
        let at = self.last.ok_or(NOTHING_HEARD)?;
        let offset_a = self.reckoner.hand_zero().map_err(|refused| refused.to_string())?;
        let event = records::zero_event(self.bank(), at, offset_a);
        sink.event(event.clone()).map_err(|error| error.to_string())?;
        self.save(sink).map_err(|error| error.to_string())?;
        Ok(event)
    }

    /// Stores a fix at the last sample, the track's point and the state after it. Gives the fix in words.
    fn note_fix(&mut self, fix: &Fix, utc: UtcMs, sink: &mut impl Sink) -> Result<String> {
        let Some(at) = self.last else { return Ok(String::new()) };
        let record = records::fix_record(self.bank(), at, fix);
        let text = record.text.clone();
        self.last_fix = Some((fix.kind, When::Running(at.mono), text.clone()));
        sink.fix(record, Some(self.anchor(at, Some(fix.kind))))?;
        self.track(at, utc, sink)?;
        // The hold that brought a fix is forgotten at a restart: it would not come again.
        self.save(sink)?;
        Ok(text)
    }

    fn anchor(&self, at: Moment, fix: Option<FixKind>) -> Anchor {
        Anchor {
            bank: self.bank().name.clone(),
            side: self.side,
            at,
            fix: fix.map(|kind| kind.word().to_owned()),
            version: STATE_VERSION,
            state: SavedState::text_of(&self.reckoner, self.since),
        }
    }

    fn track(&mut self, at: Moment, utc: UtcMs, sink: &mut impl Sink) -> Result<()> {
        self.tracked = Some(at.mono);
        let state = self.reckoner.report();
        if let Some(learned) = &state.learned {
            self.since.look(learned, at, utc);
        }
        sink.sample(self.track, &records::track_sample(at, &state)).map(drop)
    }

    /// Saves the state as of the last sample.
    ///
    /// # Errors
    /// If the store refuses it.
    pub fn save(&mut self, sink: &mut impl Sink) -> Result<()> {
        let Some(at) = self.last.filter(|_| self.save_every_ms.is_some()) else { return Ok(()) };
        self.saved = Some(at.mono);
        let bank = self.bank().name.clone();
        let state = SavedState::text_of(&self.reckoner, self.since);
        sink.checkpoint(Checkpoint { bank, at, version: STATE_VERSION, state })
    }

    fn when(&self, SinceWhen { utc, at }: SinceWhen) -> When {
        let running = self.last.map(|last| last.boot);
        at.map_or(When::Past(utc), |at| When::of(at, utc, running))
    }

    /// The state before any sample has come since the start.
    #[must_use]
    pub fn resting(&self) -> LiveBank {
        self.live(None)
    }

    /// The state after a sample.
    #[must_use]
    pub fn live(&self, reading: Option<LiveReading>) -> LiveBank {
        LiveBank {
            reading,
            reckoned: self.reckoner.report(),
            method: self.reckoner.method(),
            last_fix: self.last_fix.clone(),
            learned_since: self.since.times().map(|since| since.map(|since| self.when(since))),
        }
    }
}

fn due(last: Option<MonoMs>, now: MonoMs, every_ms: i64) -> bool {
    last.is_none_or(|last| now - last >= every_ms)
}
