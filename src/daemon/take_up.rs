//! A bank's reckoning taken up where it was left, and how long nobody was watching meanwhile.

use super::Error;
use super::notices::Note;
use super::places::Places;
use super::saved::SavedState;
use crate::battery::Bank;
use crate::clock::{Trust, WallReading};
use crate::quantity::{BandedSoc, BootNo, Moment, MonoMs, Placed};
use crate::reckoning::{Method, Reckoned, Reckoner, ResumeError, Since, Start, TimeOff};
use crate::store::{Checkpoint, Reader, SeriesId, StoredSample, Writer};

/// A reckoning to go on with.
pub struct TakenUp {
    pub reckoner: Reckoner,
    /// Since when it knows what it learned.
    pub since: Since,
    /// Whether the run goes on that the last stored anchor began.
    pub anchored: bool,
    /// What people should know of how it was found.
    pub note: Option<Note>,
}

/// The bank's reckoning as saved, taken through what is stored since then, and widened by the time off; or a new one
/// with an unknown charge.
pub fn take_up(
    writer: &Writer,
    reader: &Reader,
    (bank, main): (&Bank, SeriesId),
    method: Method,
    boot: BootNo,
    wall: WallReading,
) -> Result<TakenUp, Error> {
    let anew = |reckoner, (kind, priority), text| {
        let note = Some(Note::bank(&bank.name, kind, priority, text));
        TakenUp { reckoner, since: Since::default(), anchored: false, note }
    };
    let begin = || Reckoner::begin(method, bank.clone(), Start::Unknown);
    let Some(saved) = writer.load_checkpoint(&bank.name)? else {
        let text =
            format!("{}: nothing is known of the charge yet; it is known after the first full charge", bank.title);
        return Ok(anew(begin(), ("start-unknown", "caution"), text));
    };
    let timeline = writer.timeline()?;
    let (mut reckoner, mut since) = match resume(&saved, bank) {
        Ok(resumed) => resumed,
        Err(error) => return Ok(anew(begin(), ("resume-failed", "warning"), error.to_string())),
    };
    let last = go_through(reader, main, saved.at, &mut reckoner)?;
    let off = if last.boot == boot {
        TimeOff::Known { seconds: wall.mono.seconds_since(last.mono).max(0.0) }
    } else {
        let now = Placed { utc: wall.utc, rank: wall.trust.rank() };
        time_off(timeline.utc(last), Some(now))
    };
    // More may be known of the clock now than when they were noted.
    since.place(|at| timeline.utc(at).map(|placed| placed.utc));
    reckoner.run_on(off);
    reckoner.time_off(off);
    if reckoner.method() != method {
        let text = format!(
            "{}: now reckoned by the {method}, which begins with the charge and the band of the {}",
            bank.title,
            reckoner.method()
        );
        return Ok(anew(hand_over(&reckoner, method), ("method-changed", "note"), text));
    }
    let text = format!("{}: nobody was watching for {}; the band is wider", bank.title, words_for(off));
    let anchored = writer.anchors(&bank.name)?.iter().any(|stored| stored.anchor.side.is_none());
    Ok(TakenUp { reckoner, since, anchored, note: Some(Note::bank(&bank.name, "resumed", "note", text)) })
}

/// The state just as saved.
fn resume(saved: &Checkpoint, bank: &Bank) -> Result<(Reckoner, Since), ResumeError> {
    let state = SavedState::read(bank, saved.version, &saved.state)?;
    Ok((state.resume(bank, TimeOff::Known { seconds: 0.0 })?, state.since))
}

/// Takes a state through the samples that were stored after it was saved; gives the moment of the last. What they brought
/// was stored with them.
fn go_through(reader: &Reader, main: SeriesId, saved: Moment, reckoner: &mut Reckoner) -> Result<Moment, Error> {
    let channels = reader.series(main)?.channels;
    let Some(places) = Places::among(channels.iter().map(String::as_str)) else { return Ok(saved) };
    let end = Moment { mono: MonoMs(i64::MAX - 1), ..saved };
    let mut last = saved;
    for sample in reader.run(main, saved, end)? {
        // Over a piece that cannot be read nobody was watching: the reckoning sees the gap. If the store itself cannot be
        // read, that holds for all of the rest.
        let Ok(StoredSample { sample, .. }) = sample else { break };
        if let Some(reading) = places.reading(&sample) {
            reckoner.step(&reading);
            reckoner.take_suspicion();
            last = sample.at;
        }
    }
    Ok(last)
}

/// Another method begins with what this one knows of the charge; what only this one knows is lost.
fn hand_over(from: &Reckoner, method: Method) -> Reckoner {
    let mut reckoner = Reckoner::begin(method, from.bank().clone(), Start::Unknown);
    let state = from.report();
    if state.start_known {
        reckoner.hand_fix(state.soc, spread(&state));
    }
    reckoner
}

/// The 1 σ whose band reaches at least as far as that of a state.
pub fn spread(state: &Reckoned) -> f64 {
    BandedSoc { soc: state.soc, band: state.soc_band }.std_dev()
}

/// Time between two moments of different boots, as far as clocks tell.
pub fn time_off(before: Option<Placed>, after: Option<Placed>) -> TimeOff {
    match before.zip(after) {
        Some((before, after)) if before.trusted() && after.trusted() => {
            let seconds = after.utc.seconds_since(before.utc).max(0.0);
            if after.rank >= Trust::Synchronised.rank() {
                TimeOff::Known { seconds }
            } else {
                TimeOff::Claimed { seconds }
            }
        }
        _ => TimeOff::Unknown,
    }
}

fn words_for(off: TimeOff) -> String {
    match off {
        TimeOff::Known { seconds } => duration_words(seconds),
        TimeOff::Claimed { seconds } => format!("{} by a clock that nothing vouches for", duration_words(seconds)),
        TimeOff::Unknown => "an unknown time".to_owned(),
    }
}

/// A duration in the unit that it deserves.
pub fn duration_words(seconds: f64) -> String {
    match seconds {
        s if s < 120.0 => format!("{s:.0} s"),
        s if s < 7200.0 => format!("{:.0} min", s / 60.0),
        s if s < 48.0 * 3600.0 => format!("{:.1} h", s / 3600.0),
        s if s < 730.0 * 86_400.0 => format!("{:.1} days", s / 86_400.0),
        s => format!("{:.1} years", s / (365.25 * 86_400.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;
    use crate::quantity::UtcMs;

    fn placed(utc_s: i64, trust: Trust) -> Option<Placed> {
        Some(Placed { utc: UtcMs(utc_s * 1000), rank: trust.rank() })
    }

    #[test]
    fn time_off_is_as_sure_as_the_clocks_at_both_ends() {
        let (before, after) = (placed(1000, Trust::Plausible), placed(1600, Trust::Synchronised));
        assert_eq!(time_off(before, after), TimeOff::Known { seconds: 600.0 });
        assert_eq!(time_off(before, placed(1600, Trust::Plausible)), TimeOff::Claimed { seconds: 600.0 });
        assert_eq!(time_off(before, placed(1600, Trust::Untrusted)), TimeOff::Unknown);
        assert_eq!(time_off(placed(1000, Trust::Untrusted), after), TimeOff::Unknown);
        assert_eq!(time_off(None, after), TimeOff::Unknown);
        assert_eq!(time_off(after, before), TimeOff::Claimed { seconds: 0.0 }, "time off is never negative");
    }

    #[test]
    fn another_method_begins_with_the_charge_and_a_band_at_least_as_wide() {
        let bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
        let counter = Reckoner::begin(Method::Counter, bank.clone(), Start::At(0.8));
        let filter = hand_over(&counter, Method::Filter);
        assert_eq!(filter.method(), Method::Filter);
        let (before, after) = (counter.report(), filter.report());
        assert!(after.start_known && (after.soc - 0.8).abs() < 0.01, "{after:?}");
        assert!(after.soc_band.low <= before.soc_band.low + 0.01 && after.soc_band.high >= before.soc_band.high - 0.01);
        let unknown = hand_over(&Reckoner::begin(Method::Counter, bank, Start::Unknown), Method::Filter);
        assert!(!unknown.report().start_known);
    }
}
