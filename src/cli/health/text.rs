//! The record of one bank, section by section.

use std::fmt::Write as _;

use super::{aged, wear};
use crate::cli::paper::wrapped;
use crate::cli::when::LocalTimes;
use crate::review::BandView;
use crate::review::record::{AdviceView, RecordView};

/// All of it: what to do first, then what that rests on.
pub fn page(view: &RecordView, times: &LocalTimes) -> String {
    let mut out = String::new();
    let title = if view.title == view.bank { view.bank.clone() } else { format!("{} ({})", view.title, view.bank) };
    let rating = format!("{:.0} Ah at {:.0} h", view.rated_capacity_ah, view.rated_hours);
    // Writing into a text cannot fail.
    let _ = writeln!(out, "{title}: {}, rated {rating}", view.chemistry);
    let (first, last) = (times.day(view.first.as_deref()), times.minute(view.surveyed_to.as_deref()));
    let _ = writeln!(out, "samples since {first}, looked at up to {last} ({})", times.zone_name());
    view.notes.iter().for_each(|note| out.push_str(&wrapped(note, 0)));
    let sections = [
        ("What to do", advice(&view.advice)),
        ("Capacity", aged::capacity(view, times)),
        ("Fade", aged::fade(view, times)),
        ("Capacity tests", aged::tests(view, times)),
        ("Resistance", aged::resistance(view)),
        ("Balance", aged::balance(view)),
        ("Use", wear::usage(view, times)),
        ("Cycles and wear", wear::cycles(view)),
        ("Reach", wear::reach(view)),
        ("Air", view.ventilation.as_ref().map_or_else(String::new, |air| wrapped(&air.text, 2))),
        ("Mind", view.cautions.iter().map(|caution| wrapped(caution, 2)).collect()),
    ];
    for (heading, body) in sections.iter().filter(|(_, body)| !body.is_empty()) {
        let _ = write!(out, "\n{heading}\n{body}");
    }
    out
}

fn advice(advice: &[AdviceView]) -> String {
    if advice.is_empty() {
        return "  Nothing, as far as can be told.\n".to_owned();
    }
    let mut out = String::new();
    for one in advice {
        out.push_str(&wrapped(&format!("{}: {}", one.priority, one.title), 2));
        for part in [&one.reason, &one.evidence, &one.action, &one.source] {
            out.push_str(&wrapped(part, 4));
        }
    }
    out
}

/// A labelled line.
pub fn row(out: &mut String, label: &str, words: &str) {
    let mut lines = wrapped(words, 20);
    lines.replace_range(..20.min(lines.len()), &format!("  {label:<17} "));
    out.push_str(&lines);
}

/// A value with its band: `112.4 Ah (110.1 to 114.7)`.
pub fn banded(band: &BandView, unit: &str, decimals: usize) -> String {
    let BandView { value, low, high } = band;
    format!("{value:.decimals$} {unit} ({low:.decimals$} to {high:.decimals$})")
}

/// A ratio with its band as per cent: `93.7 % (91.8 to 95.6)`.
pub fn banded_percent(band: &BandView) -> String {
    banded(&band.scaled(100.0), "%", 1)
}
