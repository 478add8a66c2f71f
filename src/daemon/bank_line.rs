//! One bank's way from samples to records: stored, reckoned, tracked once a minute, saved with the samples.

use crate::battery::Bank;
use crate::http::{LiveBank, LiveReading};
use crate::quantity::{Channel, Moment, MonoMs, Reading, Sample, UtcMs};
use crate::reckoning::{Fix, FixKind, Reckoned, Reckoner};
use crate::store::{BandedSoc, Checkpoint, FixRecord, Result, SeriesId, SeriesKind, SeriesSpec, Writer, WriterHandle};

/// The reckoned track is stored this often, ms.
const TRACK_EVERY_MS: i64 = 60_000;
/// Track points further apart than this have a gap between them, ms.
const TRACK_GAP_MS: i64 = 180_000;
/// What is said of a full fix for as long as a charger holds the bank full, and when it lets go.
const HELD_FULL: &str = "held full until now";
/// Form of the saved state.
pub const STATE_VERSION: i64 = 1;

/// Takes records: the store's thread while live, the writer itself when a recorded past is stored.
pub trait Sink {
    /// Takes a sample of a series.
    ///
    /// # Errors
    /// If the store refuses it.
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()>;
    /// Takes a fix.
    ///
    /// # Errors
    /// If the store refuses it.
    fn fix(&mut self, fix: FixRecord) -> Result<()>;
    /// Takes a saved state.
    ///
    /// # Errors
    /// If the store refuses it.
    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()>;
}

impl Sink for Writer {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()> {
        self.append(series, sample).map(drop)
    }

    fn fix(&mut self, fix: FixRecord) -> Result<()> {
        Writer::fix(self, fix)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        Writer::checkpoint(self, checkpoint)
    }
}

impl Sink for WriterHandle {
    fn sample(&mut self, series: SeriesId, sample: &Sample) -> Result<()> {
        self.append(series, sample.clone())
    }

    fn fix(&mut self, fix: FixRecord) -> Result<()> {
        WriterHandle::fix(self, fix)
    }

    fn checkpoint(&mut self, checkpoint: Checkpoint) -> Result<()> {
        WriterHandle::checkpoint(self, checkpoint)
    }
}

/// How often the state is saved while a recorded past is stored, ms: it is wanted at the end, and after a start that
/// broke off.
pub const SAVE_PAST_EVERY_MS: i64 = 3_600_000;

/// The series that a bank's reckoned track is stored in.
#[must_use]
pub fn track_spec(bank: &str) -> SeriesSpec {
    let channels = ["soc", "soc_low", "soc_high", "capacity_ah"];
    SeriesSpec {
        name: format!("{bank}-reckoning"),
        kind: SeriesKind::Reckoning,
        bank: bank.to_owned(),
        channels: channels.iter().map(|name| Channel::try_new(name).expect("fixed names are channel names")).collect(),
        gap_ms: TRACK_GAP_MS,
    }
}

/// Places of the channels that the reckoning needs in the samples of the main device.
#[derive(Debug, Clone, Copy)]
struct Places {
    voltage: usize,
    current: usize,
    temperature: Option<usize>,
}

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
    last_fix: Option<(FixKind, UtcMs, String)>,
    save_every_ms: Option<i64>,
}

impl BankLine {
    /// A bank whose main device has these channels; `None` if voltage or current is not among them.
    #[must_use]
    pub fn new(reckoner: Reckoner, channels: &[Channel], series: SeriesId, track: SeriesId) -> Option<BankLine> {
        let place = |name: &str| channels.iter().position(|channel| channel.name() == name);
        let places = Places {
            voltage: place(Channel::VOLTAGE)?,
            current: place(Channel::CURRENT)?,
            temperature: place(Channel::TEMPERATURE),
        };
        Some(BankLine {
            reckoner,
            places,
            series,
            track,
            tracked: None,
            saved: None,
            last: None,
            last_fix: None,
            save_every_ms: Some(0),
        })
    }

    /// Says what corrected the reckoning last, as the store remembers it.
    #[must_use]
    pub fn with_last_fix(mut self, fix: Option<(FixKind, UtcMs, String)>) -> BankLine {
        self.last_fix = fix;
        self
    }

    /// Saves the state this often, ms of samples, instead of with each sample; never if the store already holds a later
    /// state. A live bank saves with each sample, so that every commit holds the state of its last sample.
    #[must_use]
    pub const fn saving_every(mut self, every_ms: Option<i64>) -> BankLine {
        self.save_every_ms = every_ms;
        self
    }

    /// The bank.
    #[must_use]
    pub const fn bank(&self) -> &Bank {
        self.reckoner.bank()
    }

    /// Takes a sample of the main device: stores it, reckons, and stores what came of it. A sample without voltage or
    /// current is stored and not reckoned.
    ///
    /// # Errors
    /// If the store refuses a record; the reckoning has gone on all the same.
    pub fn take(&mut self, sample: &Sample, utc: UtcMs, sink: &mut impl Sink) -> Result<Option<Fix>> {
        let stored = sink.sample(self.series, sample);
        let Some(reading) = self.reading(sample) else { return stored.map(|()| None) };
        // Only a bank that is held full can be let go.
        let held = self.reckoner.held_full().then(|| self.reckoner.report());
        let fix = self.reckoner.step(&reading);
        self.last = Some(sample.at);
        if let Some(fix) = &fix {
            let record = self.fix_record(sample.at, fix);
            self.last_fix = Some((fix.kind, utc, record.text.clone()));
            sink.fix(record)?;
        }
        match held {
            Some(_) if self.reckoner.held_full() => self.last_fix = Some((FixKind::Full, utc, HELD_FULL.to_owned())),
            Some(before) => sink.fix(self.let_go_record(sample.at, &before))?,
            None => {}
        }
        if due(self.tracked, sample.at.mono, TRACK_EVERY_MS) || fix.is_some() {
            self.tracked = Some(sample.at.mono);
            sink.sample(self.track, &self.track_sample(sample.at))?;
        }
        if self.save_every_ms.is_some_and(|every_ms| due(self.saved, sample.at.mono, every_ms)) {
            self.save(sink)?;
        }
        stored.map(|()| fix)
    }

    /// Saves the state as of the last sample.
    ///
    /// # Errors
    /// If the store refuses it.
    pub fn save(&mut self, sink: &mut impl Sink) -> Result<()> {
        let Some(at) = self.last.filter(|_| self.save_every_ms.is_some()) else { return Ok(()) };
        self.saved = Some(at.mono);
        let bank = self.bank().name.clone();
        sink.checkpoint(Checkpoint { bank, at, version: STATE_VERSION, state: self.reckoner.save() })
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
            learned_since: [None; 5],
        }
    }

    fn reading(&self, sample: &Sample) -> Option<Reading> {
        let value = |place: usize| sample.values.get(place).copied().flatten();
        Some(Reading {
            t_s: sample.at.mono.seconds_since(MonoMs(0)),
            voltage_v: value(self.places.voltage)?,
            current_a: value(self.places.current)?,
            temperature_c: self.places.temperature.and_then(value),
        })
    }

    fn track_sample(&self, at: Moment) -> Sample {
        let Reckoned { soc, soc_band, capacity_ah, .. } = self.reckoner.report();
        // Five decimals are far finer than any band, and whole steps pack well.
        let rounded = |value: f64| (value * 1e5).round() / 1e5;
        let values = [soc, soc_band.low, soc_band.high, capacity_ah].map(|v| Some(rounded(v)));
        Sample { at, values: values.to_vec() }
    }

    /// The charger let go of a full bank: until now the full fix was good.
    fn let_go_record(&self, at: Moment, before: &Reckoned) -> FixRecord {
        let full = banded(before);
        FixRecord {
            bank: self.bank().name.clone(),
            at,
            kind: FixKind::Full.word().to_owned(),
            before: Some(full),
            after: full,
            text: HELD_FULL.to_owned(),
        }
    }

    fn fix_record(&self, at: Moment, fix: &Fix) -> FixRecord {
        let Fix { kind, before, after } = fix;
        let percent = |state: &Reckoned| 100.0 * state.soc;
        FixRecord {
            bank: self.bank().name.clone(),
            at,
            kind: kind.word().to_owned(),
            before: before.start_known.then(|| banded(before)),
            after: banded(after),
            text: format!("{} fix: reckoned {:.1} %, now {:.1} %", kind.word(), percent(before), percent(after)),
        }
    }
}

const fn banded(state: &Reckoned) -> BandedSoc {
    BandedSoc { soc: state.soc, band: state.soc_band }
}

fn due(last: Option<MonoMs>, now: MonoMs, every_ms: i64) -> bool {
    last.is_none_or(|last| now - last >= every_ms)
}
