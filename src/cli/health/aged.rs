//! How the bank has aged: capacity, fade, tests, resistance, balance.

use std::fmt::Write as _;

use super::text::{banded, banded_percent, row};
use crate::cli::paper::{number, percent, wrapped};
use crate::cli::when::LocalTimes;
use crate::review::BandView;
use crate::review::record::RecordView;

/// Findings that are listed; `--json` has all.
const LISTED: usize = 8;

/// The capacity now, and the latest findings.
pub fn capacity(view: &RecordView, times: &LocalTimes) -> String {
    let mut out = String::new();
    let Some(latest) = &view.capacity.latest else {
        return "  Not measured yet: that takes a deep discharge between two fixes, or a test.\n".to_owned();
    };
    let band = BandView { value: latest.value, low: latest.low, high: latest.high };
    let ratio = BandView { value: latest.ratio, low: latest.ratio_low, high: latest.ratio_high };
    row(&mut out, "now", &format!("{}, {} of the rating", banded(&band, "Ah", 1), banded_percent(&ratio)));
    row(&mut out, "last finding", &times.day(latest.time.as_deref()));
    out.push_str("  found       by             out Ah  mean A    °C  at rating Ah       counts\n");
    for finding in view.capacity.findings.iter().rev().take(LISTED) {
        let rated = format!("{:.1} ± {:.1}", finding.rated_ah.value, finding.rated_ah.high - finding.rated_ah.value);
        // Writing into a text cannot fail.
        let _ = writeln!(
            out,
            "  {:<11} {:<14} {:>6.1} {:>7.1} {:>5}  {rated:<18} {}",
            times.day(finding.time.as_deref()),
            finding.watched,
            finding.charge_ah,
            finding.load_a,
            number(finding.temperature_c, 0),
            if finding.believed { "yes" } else { "hardly" },
        );
    }
    let more = view.capacity.findings.len().saturating_sub(LISTED);
    if more > 0 {
        let _ = writeln!(out, "  and {more} earlier ones");
    }
    out
}

/// The trend, and when the end of life comes.
pub fn fade(view: &RecordView, times: &LocalTimes) -> String {
    let fade = &view.fade;
    let mut out = wrapped(&fade.text, 2);
    if let Some(per_year) = &fade.per_year {
        row(&mut out, "a year", &banded_percent(per_year));
    }
    if let Some(now_per_year) = &fade.now_per_year {
        row(&mut out, "at present", &format!("{} a year", banded_percent(now_per_year)));
    }
    if let Some(knee) = &fade.knee {
        row(&mut out, "knee", &format!("{}: {}", times.day(knee.time.as_deref()), knee.text));
    }
    if let Some(end) = &fade.end_of_life {
        let day =
            |time: &Option<String>| time.as_ref().map_or_else(|| "later".to_owned(), |time| times.day(Some(time)));
        let (earliest, middle, latest) = (day(&end.earliest), day(&end.middle), day(&end.latest));
        let words = format!("{earliest} to {latest} (90 %), most likely about {middle}");
        row(&mut out, &format!("{:.0} % reached", 100.0 * view.end_of_life), &words);
    }
    out
}

/// Capacity tests, and when the next one is due.
pub fn tests(view: &RecordView, times: &LocalTimes) -> String {
    let mut out = String::new();
    for test in view.tests.iter().take(LISTED) {
        let head = format!("{} {}", times.day(test.start.as_deref()), test.state);
        let result = test.capacity.as_ref().map(|capacity| capacity.value);
        row(&mut out, &head, &format!("{} of the rating. {}", percent(result), test.text));
    }
    out.push_str(&wrapped(&view.test_due.text, 2));
    out
}

/// Resistance of the bank and its monoblocs.
pub fn resistance(view: &RecordView) -> String {
    if view.resistance.is_empty() {
        return "  Not measured yet: that takes load steps, seen once a second or oftener.\n".to_owned();
    }
    let mut out = String::new();
    for line in &view.resistance {
        let which = line.monobloc.map_or_else(|| "bank".to_owned(), |monobloc| format!("monobloc {monobloc}"));
        let within = if line.reach == "second" { "1 s" } else { "1 min" };
        row(&mut out, &format!("{which}, {within}"), &line.text);
    }
    out
}

/// How the monoblocs stand against each other.
pub fn balance(view: &RecordView) -> String {
    let balance = &view.balance;
    let mut out = wrapped(&balance.text, 2);
    if balance.now.is_empty() {
        return out;
    }
    out.push_str("  monobloc   at rest mV   under load mV   at the end of charge mV\n");
    for monobloc in 1..=balance.monoblocs {
        let of = |state: &str| {
            let found = balance.now.iter().find(|one| one.monobloc == monobloc && one.state == state);
            found.map_or_else(|| "-".to_owned(), |one| format!("{:+.0}", 1000.0 * one.deviation_v))
        };
        let _ = writeln!(out, "  {monobloc:>8} {:>12} {:>15} {:>25}", of("rest"), of("load"), of("charge-end"));
    }
    out
}
