//! The report of a bank's health.

use jiff::tz::TimeZone;
use maud::{Markup, html};

use super::chart::{Chart, Edges, Point, bars, range_of};
use super::figures::{pairs, table};
use super::page::{About, notes, page};
use super::words::{NOTHING, band, clock, day, ms_of, number, percent};
use crate::review::record::{
    AdviceView, BalanceView, CapacityView, CyclesView, FadeView, RatioView, ReachView, RecordView, ResistanceView,
    StressView, TestView, UseView,
};

/// The report of a bank's health as HTML.
#[must_use]
pub fn health(about: &About<'_>, record: &RecordView) -> String {
    let zone = about.zone;
    let under = match (&record.first, &record.surveyed_to) {
        (Some(_), Some(_)) => {
            format!("From {} to {}", day(record.first.as_ref(), zone), day(record.surveyed_to.as_ref(), zone))
        }
        _ => "Nothing was recorded yet, or nothing was looked at.".to_owned(),
    };
    let body = html! {
        (notes(&record.notes))
        p.lead { (in_short(&record.capacity, &record.fade)) }
        h2 { "What to do" }
        (advice(&record.advice))
        h2 { "Capacity" }
        (capacity(record, zone))
        h2 { "Capacity tests" }
        (tests(&record.tests, zone))
        p { (record.test_due.text) }
        h2 { "Internal resistance" }
        (resistance(&record.resistance, zone))
        h2 { "Balance" }
        (balance(&record.balance, zone))
        h2 { "Use" }
        (usage(&record.usage, zone))
        h2 { "Cycles and wear" }
        (wear(&record.cycles, &record.stress))
        @if let Some(reach) = &record.reach { h2 { "Energy and speed" } (miles(reach)) }
        @if let Some(air) = &record.ventilation {
            h2 { "Ventilation" }
            p { "Air " (number(Some(air.air_m3_h), 2, "m³/h")) ", openings of " (number(Some(air.area_cm2), 0, "cm²")) " each. " (air.text) }
        }
    };
    page(about, "Health of the bank", &under, &body)
}

fn in_short(capacity: &CapacityView, fade: &FadeView) -> String {
    let now = capacity.latest.as_ref().map_or_else(
        || "No capacity was found yet.".to_owned(),
        |latest| {
            format!(
                "The bank holds {:.0}\u{a0}Ah ({:.0} to {:.0}), {} of its rating.",
                latest.value,
                latest.low,
                latest.high,
                percent(Some(latest.ratio), 0)
            )
        },
    );
    format!("{now} {}", fade.text)
}

fn advice(advice: &[AdviceView]) -> Markup {
    html! {
        @if advice.is_empty() { p { "Nothing that the record knows of." } }
        @for one in advice {
            div class={ "advice " (one.priority) } {
                h3 { (one.title) }
                p { (one.action) }
                p { (one.reason) " " (one.evidence) }
                p.mute { "Source: " (one.source) }
            }
        }
    }
}

fn points(of: &[RatioView]) -> (Vec<Point>, Vec<Edges>) {
    let placed = of.iter().filter_map(|point| ms_of(point.time.as_ref()).map(|at| (at, point)));
    placed.map(|(at, point)| ((at, 100.0 * point.ratio), (at, 100.0 * point.low, 100.0 * point.high))).unzip()
}

fn capacity(record: &RecordView, zone: &TimeZone) -> Markup {
    let CapacityView { findings, .. } = &record.capacity;
    let rated = record.rated_capacity_ah;
    let ((line, line_band), (ahead, ahead_band)) = (points(&record.fade.line), points(&record.fade.forecast));
    let found: Vec<_> =
        findings.iter().filter_map(|finding| ms_of(finding.time.as_ref()).map(|at| (at, finding))).collect();
    let times = || found.iter().map(|(at, _)| *at).chain(line.iter().chain(&ahead).map(|(at, _)| *at));
    let span = times().min().zip(times().max()).filter(|(first, last)| first < last);
    let end = 100.0 * record.end_of_life;
    let values = found
        .iter()
        .flat_map(|(_, finding)| [finding.corrected_ah.low, finding.corrected_ah.high].map(|ah| 100.0 * ah / rated))
        .chain([end, 100.0])
        .chain(line_band.iter().flat_map(|(_, low, high)| [*low, *high]));
    let range = range_of(values).map(|(low, high)| (low.max(0.0), high.min(160.0)));
    let rows: Vec<_> = findings
        .iter()
        .rev()
        .take(MOST_FINDINGS)
        .map(|finding| {
            let combined = finding.combined_ah.as_ref();
            vec![
                day(finding.time.as_ref(), zone),
                finding.watched.replace('-', " "),
                number(Some(finding.load_a), 1, "A"),
                number(finding.temperature_c, 0, "°C"),
                band(Some(&finding.raw_ah), 1.0, 0, "Ah"),
                band(Some(&finding.rated_ah), 1.0, 0, "Ah"),
                if finding.believed { band(combined, 1.0, 0, "Ah") } else { "not believed".to_owned() },
            ]
        })
        .collect();
    let mut laws: Vec<&str> = findings.iter().map(|finding| finding.law.as_str()).collect();
    laws.sort_unstable();
    laws.dedup();
    html! {
        p { (record.fade.text) }
        @if let Some(knee) = &record.fade.knee { p { (knee.text) } }
        @if let Some((span, range)) = span.zip(range) {
            @let chart = {
                let mut chart = Chart::new(span, range, 260.0, zone);
                chart.shoal(end);
                chart.band("fan", &ahead_band);
                chart.band("band", &line_band);
                chart.line("trace", &line);
                chart.line("ahead", &ahead);
                for (at, finding) in &found {
                    let ratio = |ah: f64| 100.0 * ah / rated;
                    let error = (*at, ratio(finding.corrected_ah.low), ratio(finding.corrected_ah.high));
                    chart.dot(error, ratio(finding.corrected_ah.value), finding.believed);
                }
                chart.level(end, "end of life");
                chart.finish(
                    "Capacity found, with its trend and what lies ahead",
                    "% of the rating",
                    "Each dot is a finding with its band; the line is the trend, dashed ahead.",
                )
            };
            (chart)
        }
        @if rows.is_empty() {
            p { "No capacity was found yet: it takes a way from full to a long rest, to the cut-off, or a capacity test." }
        } @else {
            (table("Findings, the latest first", &["When", "Watched", "Load", "Temp.", "As measured", "At the rating", "All together"], &rows))
            @if findings.len() > MOST_FINDINGS { p.mute { (findings.len() - MOST_FINDINGS) " earlier findings are not listed." } }
        }
        @for law in laws { p.mute { "Brought to the rating by: " (law) } }
    }
}

/// Findings that a table lists.
const MOST_FINDINGS: usize = 40;

fn tests(tests: &[TestView], zone: &TimeZone) -> Markup {
    let rows: Vec<_> = tests
        .iter()
        .map(|test| {
            vec![
                clock(test.start.as_ref(), zone),
                test.state.to_owned(),
                number(test.load_a, 1, "A"),
                number(test.hours, 2, "h"),
                number(test.charge_ah, 1, "Ah"),
                number(test.temperature_c, 1, "°C"),
                percent(test.time_adjusted, 1),
                percent(test.rate_adjusted, 1),
                test.verdict.clone().unwrap_or_else(|| NOTHING.to_owned()),
            ]
        })
        .collect();
    html! {
        @if rows.is_empty() { p { "None was made." } } @else {
            (table("", &["Start", "State", "Load", "Time", "Charge", "Temp.", "Time-adj.", "Rate-adj.", "Verdict"], &rows))
        }
    }
}

fn resistance(all: &[ResistanceView], zone: &TimeZone) -> Markup {
    html! {
        @if all.is_empty() { p { "No load steps were found yet that tell it." } }
        @for one in all {
            @let name = match one.monobloc { Some(number) => format!("Monobloc {number}"), None => "The whole bank".to_owned() };
            h3 { (name) ", within a " (one.reach) }
            p { (one.text) }
            @let line: Vec<Point> = one.points.iter().filter_map(|p| ms_of(p.time.as_ref()).map(|at| (at, 1000.0 * p.normal_ohm))).collect();
            @let range = range_of(line.iter().map(|(_, value)| *value).chain([0.0]));
            @if let (None, Some((first, _)), Some((last, _)), Some(range)) = (one.monobloc, line.first(), line.last(), range) {
                @if first < last {
                    @let chart = {
                        let mut chart = Chart::new((*first, *last), (0.0, range.1), 150.0, zone);
                        chart.line("trace", &line);
                        chart.finish("At 25 °C and the upper half of charge", "mΩ", "Resistance over the years.")
                    };
                    (chart)
                }
            }
        }
    }
}

fn balance(balance: &BalanceView, zone: &TimeZone) -> Markup {
    let rows: Vec<_> = balance
        .now
        .iter()
        .map(|one| {
            vec![
                format!("Monobloc {}", one.monobloc),
                one.state.replace('-', " "),
                // Adding nought turns -0 into 0.
                format!("{:+.0}\u{a0}mV", (1000.0 * one.deviation_v).round() + 0.0),
                one.days.to_string(),
            ]
        })
        .collect();
    let line: Vec<Point> = balance
        .spread
        .iter()
        .filter(|one| one.state == "load")
        .filter_map(|one| ms_of(one.time.as_ref()).map(|at| (at, 1000.0 * one.spread_v)))
        .collect();
    let range = range_of(line.iter().map(|(_, value)| *value));
    html! {
        p { (balance.text) }
        @if let Some(weak) = &balance.weak { p { strong { (weak.text) } } }
        @if let (Some((first, _)), Some((last, _)), Some(range)) = (line.first(), line.last(), range) {
            @if first < last {
                @let chart = {
                    let mut chart = Chart::new((*first, *last), (0.0, range.1), 140.0, zone);
                    chart.line("trace", &line);
                    chart.finish("Highest less lowest monobloc, under load", "mV", "Spread of the monoblocs over the years.")
                };
                (chart)
            }
        }
        @if !rows.is_empty() { (table("Against the mean of all, now", &["", "When", "Deviation", "Days"], &rows)) }
    }
}

fn usage(usage: &UseView, zone: &TimeZone) -> Markup {
    let rows = [
        ("Days watched", number(Some(usage.days), 0, "")),
        ("Charge out", number(Some(usage.charge_out_ah), 0, "Ah")),
        ("Charge in", number(Some(usage.charge_in_ah), 0, "Ah")),
        ("Energy out", number(Some(usage.energy_out_wh / 1000.0), 1, "kWh")),
        ("Energy in", number(Some(usage.energy_in_wh / 1000.0), 1, "kWh")),
        ("Last full", clock(usage.last_full.as_ref(), zone)),
        ("Days since then", number(usage.days_since_full, 1, "")),
        ("Usual charging to full", number(usage.charging_h, 1, "h")),
        ("Charge efficiency", band(usage.efficiency.as_ref(), 100.0, 1, "%")),
        ("Standing load", band(usage.standing_a.as_ref(), 1.0, 2, "A")),
        ("Not accounted for", band(usage.unaccounted_a.as_ref(), 1.0, 2, "A")),
    ];
    let tenths: Vec<_> = usage
        .soc_tenths
        .iter()
        .enumerate()
        .map(|(tenth, share)| (format!("{} to {}", 10 * tenth, 10 * tenth + 10), 100.0 * share))
        .collect();
    let temperatures: Vec<_> = usage
        .temperature_h
        .iter()
        .map(|one| {
            let words = match (one.from_c, one.to_c) {
                (None, Some(to)) => format!("below {to:.0}"),
                (Some(from), None) => format!("{from:.0} and above"),
                (Some(from), Some(to)) => format!("{from:.0} to {to:.0}"),
                (None, None) => String::new(),
            };
            (words, one.hours)
        })
        .collect();
    html! {
        (pairs(&rows))
        @if let Some(chart) = bars("Time at each tenth of charge, in % of charge", "% of the time", &tenths) { (chart) }
        @if let Some(chart) = bars("Time at temperatures, in °C", "hours", &temperatures) { (chart) }
    }
}

fn wear(cycles: &CyclesView, stress: &StressView) -> Markup {
    let depths: Vec<_> = cycles
        .by_depth
        .iter()
        .enumerate()
        .map(|(tenth, count)| (format!("{} to {}", 10 * tenth, 10 * tenth + 10), *count))
        .collect();
    html! {
        p {
            (number(Some(cycles.equivalent_full), 1, "")) " equivalent full cycles; "
            (number(Some(cycles.counted), 0, "")) " cycles counted (rainflow counting, ASTM E1049-85)."
        }
        @if let Some(chart) = bars("Cycles by depth, in % of charge", "cycles", &depths) { (chart) }
        p { (stress.text) }
        @for rule in &stress.rules { p.mute { (rule) } }
    }
}

fn miles(reach: &ReachView) -> Markup {
    let rows: Vec<_> = reach
        .bins
        .iter()
        .map(|bin| {
            vec![
                format!("{:.1} to {:.1}\u{a0}kn", bin.from_kn, bin.to_kn),
                band(Some(&bin.wh_per_nm), 1.0, 0, "Wh/nm"),
                number(Some(bin.minutes / 60.0), 1, "h"),
            ]
        })
        .collect();
    html! { (table("", &["Speed over ground", "Energy per mile", "Under way"], &rows)) }
}
