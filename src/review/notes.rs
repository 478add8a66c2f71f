//! What has to be said beside sums: what nobody saw, what cannot be read, and times that are not believed.

use super::values::rfc3339;
use crate::quantity::MonoRange;
use crate::store::{SeriesInfo, Source, Unreadable};

/// Part of a span that may be without samples before it is said: the first interval of a span, a device's pause.
const UNSEEN_SAID: f64 = 0.002;
/// Shortest time without samples that is said, s.
const UNSEEN_SAID_S: f64 = 60.0;

/// Time without samples in a span of `span_s`, of which samples cover `covered_s`.
#[must_use]
pub fn unseen_note(span_s: f64, covered_s: f64) -> Option<String> {
    if covered_s <= 0.0 {
        return Some("There are no samples of this time: nothing can be said about it.".to_owned());
    }
    let unseen_s = span_s - covered_s;
    (unseen_s > UNSEEN_SAID_S && unseen_s > UNSEEN_SAID * span_s).then(|| {
        let (unseen, span) = (duration(unseen_s), duration(span_s));
        format!("For {unseen} of {span} there are no samples: what flowed then is not in the sums.")
    })
}

/// More time with samples than a span has.
#[must_use]
pub fn overlap_note(span_s: f64, covered_s: f64) -> Option<String> {
    let twice_s = covered_s - span_s;
    (twice_s > UNSEEN_SAID_S && twice_s > UNSEEN_SAID * span_s).then(|| {
        format!(
            "Samples cover {} more than the time has: the clock was set back, or two records lie over each other.",
            duration(twice_s)
        )
    })
}

/// Stretches whose time rests on a clock that nobody vouched for.
#[must_use]
pub fn clock_note(watched: &[MonoRange]) -> Option<String> {
    let untrusted_s: f64 =
        watched.iter().filter(|range| !range.trusted()).map(|range| range.to.seconds_since(range.from)).sum();
    (untrusted_s > 0.0).then(|| {
        format!(
            "For up to {} the computer's clock was not believed: what is shown for that time may belong to another.",
            duration(untrusted_s)
        )
    })
}

/// Samples that are stored but cannot be read; minutes are made up for from samples and are not said.
#[must_use]
pub fn unreadable_notes(rows: &[Unreadable], series: &[SeriesInfo]) -> Vec<String> {
    let lost = rows.iter().filter(|row| row.source != Source::MinuteChunk);
    let notes = lost.map(|row| {
        let name = series.iter().find(|s| s.id == row.series).map_or("a device", |s| s.name.as_str());
        let from = row.utc.and_then(|(from, _)| rfc3339(from)).unwrap_or_else(|| "an unknown time".to_owned());
        let to = row.utc.and_then(|(_, to)| rfc3339(to)).unwrap_or_else(|| "an unknown time".to_owned());
        format!("Samples of {name} from {from} to {to} are stored but cannot be read ({}).", row.cause)
    });
    notes.collect()
}

/// A duration in words: `40 s`, `12 min`, `3.5 h`, `4.0 days`.
#[must_use]
pub fn duration(seconds: f64) -> String {
    match seconds {
        s if s < 90.0 => format!("{s:.0} s"),
        s if s < 5400.0 => format!("{:.0} min", s / 60.0),
        s if s < 48.0 * 3600.0 => format!("{:.1} h", s / 3600.0),
        s => format!("{:.1} days", s / 86_400.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::quantity::{BootNo, MonoMs};

    #[test]
    fn time_without_samples_is_said_once_it_matters() {
        assert_eq!(unseen_note(3600.0, 3599.0), None);
        assert_eq!(unseen_note(864_000.0, 863_900.0), None, "a hundred seconds of ten days");
        let note = unseen_note(7200.0, 3600.0).expect("an hour is missing");
        assert!(note.starts_with("For 60 min of 2.0 h there are no samples"), "{note}");
        assert!(unseen_note(7200.0, 0.0).expect("nothing is there").contains("no samples of this time"));
        assert_eq!((unseen_note(3600.0, 7200.0), overlap_note(3600.0, 3600.0)), (None, None));
        assert!(overlap_note(3600.0, 7200.0).expect("twice").contains("the clock was set back"));
    }

    #[test]
    fn only_a_clock_that_is_not_believed_is_said() {
        let range = |rank| MonoRange { boot: BootNo(1), from: MonoMs(0), to: MonoMs(7_200_000), offset_ms: 0, rank };
        assert_eq!(clock_note(&[range(1), range(3)]), None);
        assert!(clock_note(&[range(3), range(0)]).expect("rank 0").contains("up to 2.0 h"));
    }

    #[test]
    fn durations_have_the_unit_that_they_deserve() {
        assert_eq!([40.0, 720.0, 12_600.0, 345_600.0].map(duration), ["40 s", "12 min", "3.5 h", "4.0 days"]);
    }
}
