//! The report of a passage.

use jiff::tz::TimeZone;
use maud::{Markup, html};

use super::chart::{Chart, Edges, Point, range_of};
use super::figures::{pairs, table};
use super::page::{About, notes, page};
use super::words::{NOTHING, clock, local, ms_of, number, percent};
use crate::review::{AtView, LedgerView, OnePassageView, SocView, SummaryView, duration};

/// The curves of a passage on one axis of time; a value that is not there is NaN.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Trace {
    /// Times, ms of UTC, rising.
    pub time_ms: Vec<i64>,
    /// State of charge: lower edge, value, upper edge.
    pub soc: Vec<[f64; 3]>,
    /// Current, A: lowest, mean, highest.
    pub current_a: Vec<[f64; 3]>,
    /// Mean voltage, V.
    pub voltage_v: Vec<f64>,
}

/// The report of a passage as HTML. `reserve` is the charge that the skipper wants kept.
#[must_use]
pub fn passage(about: &About<'_>, view: &OnePassageView, trace: &Trace, reserve: f64) -> String {
    let one = &view.passage;
    let title = if one.name.is_empty() { format!("Passage {}", one.id) } else { one.name.clone() };
    let begin = clock(one.begin.as_ref(), about.zone);
    let under = if one.going_on {
        format!("Since {begin}, still going on")
    } else {
        format!("{begin} to {}", clock(one.end.as_ref(), about.zone))
    };
    let body = html! {
        @if !one.note.is_empty() { p { (one.note) } }
        (notes(&view.notes))
        @match &one.summary {
            Some(summary) => {
                p.lead { (told(summary, reserve)) }
                (charge(trace, reserve, about.zone))
                (flow(trace, about.zone))
                h2 { "What it came to" }
                (pairs(&sums(summary)))
                h2 { "Extremes" }
                (extremes(summary, about.zone))
            }
            None => p.lead { "Nothing is known of this passage yet." }
        }
        @if let Some(ledger) = &view.ledger { h2 { "By branch" } (by_branch(ledger)) }
    };
    page(about, &title, &under, &body)
}

/// The passage in a sentence or two.
fn told(summary: &SummaryView, reserve: f64) -> String {
    let mut told = format!(
        "{} went out and {} came in",
        number(Some(summary.charge_out_ah), 1, "Ah"),
        number(Some(summary.charge_in_ah), 1, "Ah")
    );
    if let Some(lowest) = &summary.soc_lowest {
        told += &format!("; the lowest charge was {}", soc(Some(lowest)));
    }
    told += ". The reserve of ";
    told += &percent(Some(reserve), 0);
    told += &if summary.reserve_touched {
        format!(" was touched for {}.", duration(summary.below_reserve_s))
    } else {
        " was not touched.".to_owned()
    };
    told
}

fn soc(view: Option<&SocView>) -> String {
    view.map_or_else(
        || NOTHING.to_owned(),
        |SocView { soc, low, high }| format!("{:.0}\u{a0}% ({:.0} to {:.0})", 100.0 * soc, 100.0 * low, 100.0 * high),
    )
}

fn span(trace: &Trace) -> Option<(i64, i64)> {
    trace.time_ms.first().copied().zip(trace.time_ms.last().copied()).filter(|(first, last)| first < last)
}

fn charge(trace: &Trace, reserve: f64, zone: &TimeZone) -> Markup {
    let known = trace.soc.iter().any(|[_, soc, _]| soc.is_finite());
    let Some(span) = span(trace).filter(|_| known) else { return html! {} };
    let mut chart = Chart::new(span, (0.0, 100.0), 230.0, zone);
    chart.shoal(100.0 * reserve);
    let times = || trace.time_ms.iter().zip(&trace.soc);
    chart.band("band", &times().map(|(at, [low, _, high])| (*at, 100.0 * low, 100.0 * high)).collect::<Vec<Edges>>());
    chart.line("trace", &times().map(|(at, [_, soc, _])| (*at, 100.0 * soc)).collect::<Vec<Point>>());
    chart.level(100.0 * reserve, "reserve");
    chart.finish(
        "State of charge with its band",
        "%",
        "The line of charge over the passage; below the reserve it is tinted.",
    )
}

fn flow(trace: &Trace, zone: &TimeZone) -> Markup {
    let Some(span) = span(trace) else { return html! {} };
    let current = range_of(trace.current_a.iter().flatten().copied().chain([0.0]));
    let voltage = range_of(trace.voltage_v.iter().copied());
    let times = || trace.time_ms.iter().zip(&trace.current_a);
    html! {
        @if let Some(range) = current {
            @let chart = {
                let mut chart = Chart::new(span, range, 150.0, zone);
                chart.band("band", &times().map(|(at, [low, _, high])| (*at, *low, *high)).collect::<Vec<Edges>>());
                chart.line("trace", &times().map(|(at, [_, mean, _])| (*at, *mean)).collect::<Vec<Point>>());
                chart.finish("Current, lowest to highest and mean", "A; positive charges", "Current over the passage.")
            };
            (chart)
        }
        @if let Some(range) = voltage {
            @let chart = {
                let mut chart = Chart::new(span, range, 130.0, zone);
                let points: Vec<Point> = trace.time_ms.iter().copied().zip(trace.voltage_v.iter().copied()).collect();
                chart.line("second", &points);
                chart.finish("Voltage", "V", "Mean voltage over the passage.")
            };
            (chart)
        }
    }
}

fn sums(summary: &SummaryView) -> Vec<(&'static str, String)> {
    let kwh = |wh: f64| number(Some(wh / 1000.0), 2, "kWh");
    let ah = |ah: f64| number(Some(ah), 1, "Ah");
    let mut rows = vec![
        ("Duration", summary.duration_s.map_or_else(|| NOTHING.to_owned(), duration)),
        ("Covered by samples", duration(summary.covered_s)),
        ("Charge out", ah(summary.charge_out_ah)),
        ("Charge in", ah(summary.charge_in_ah)),
        ("Net", ah(summary.net_ah)),
        ("Energy out", kwh(summary.energy_out_wh)),
        ("Energy in", kwh(summary.energy_in_wh)),
        ("Charge at the beginning", soc(summary.soc_begin.as_ref())),
        ("Charge at the end", soc(summary.soc_end.as_ref())),
        ("Lowest charge", soc(summary.soc_lowest.as_ref())),
        ("Mean load", number(summary.mean_load_a, 1, "A")),
        ("Load exceeded 5 % of the time", number(summary.load_95_a, 1, "A")),
        ("Above C/5", duration(summary.above_c5_s)),
        ("Above C/2", duration(summary.above_c2_s)),
        ("Above 1C", duration(summary.above_1c_s)),
        ("Deep excursions (below half)", summary.deep_excursions.to_string()),
        ("Below the reserve", duration(summary.below_reserve_s)),
    ];
    if summary.distance_nm.is_some() {
        rows.push(("Over ground", number(summary.distance_nm, 1, "nm")));
        rows.push(("Energy per mile", number(summary.wh_per_nm, 0, "Wh/nm")));
    }
    rows
}

fn extremes(summary: &SummaryView, zone: &TimeZone) -> Markup {
    let row = |name: &str, at: &Option<AtView>, decimals, unit: &str| {
        at.as_ref()
            .map(|at| vec![name.to_owned(), number(Some(at.value), decimals, unit), clock(at.time.as_ref(), zone)])
    };
    let rows: Vec<_> = [
        row("Lowest voltage", &summary.voltage_min, 2, "V"),
        row("Highest voltage", &summary.voltage_max, 2, "V"),
        row("Strongest discharge", &summary.current_min, 1, "A"),
        row("Strongest charge", &summary.current_max, 1, "A"),
        row("Strongest discharge, power", &summary.power_min, 0, "W"),
        row("Strongest charge, power", &summary.power_max, 0, "W"),
        row("Coldest", &summary.temperature_min, 1, "°C"),
        row("Warmest", &summary.temperature_max, 1, "°C"),
    ]
    .into_iter()
    .flatten()
    .chain(summary.soc_lowest.as_ref().map(|lowest| {
        let time = ms_of(summary.soc_lowest_time.as_ref()).map_or_else(|| NOTHING.to_owned(), |at| local(at, zone));
        vec!["Lowest charge".to_owned(), soc(Some(lowest)), time]
    }))
    .collect();
    table("", &["", "Value", "When"], &rows)
}

fn by_branch(ledger: &LedgerView) -> Markup {
    let kwh = |wh: Option<f64>| number(wh.map(|wh| wh / 1000.0), 2, "kWh");
    let ah = |ah: Option<f64>| number(ah, 1, "Ah");
    let mut rows: Vec<Vec<String>> = ledger
        .branches
        .iter()
        .map(|branch| {
            let name = if branch.computed { format!("{} (computed)", branch.title) } else { branch.title.clone() };
            let within = branch.error_ah.map_or_else(|| NOTHING.to_owned(), |error| format!("±{error:.1}\u{a0}Ah"));
            vec![
                name,
                ah(branch.charge_in_ah),
                ah(branch.charge_out_ah),
                kwh(branch.energy_in_wh),
                kwh(branch.energy_out_wh),
                within,
            ]
        })
        .collect();
    rows.push(vec![
        "The bank's own sensor".to_owned(),
        ah(ledger.charge_in_ah),
        ah(ledger.charge_out_ah),
        kwh(ledger.energy_in_wh),
        kwh(ledger.energy_out_wh),
        NOTHING.to_owned(),
    ]);
    html! {
        (table("", &["", "Charge in", "Charge out", "Energy in", "Energy out", "Within"], &rows))
        @if let Some(loss) = &ledger.own_loss_ah {
            p { "The bank's own loss: " (super::words::band(Some(loss), 1.0, 1, "Ah")) "." }
        }
        @if let Some(unaccounted) = &ledger.unaccounted_ah {
            p { "Not accounted for by any branch: " (super::words::band(Some(unaccounted), 1.0, 1, "Ah")) "." }
        }
        (notes(&ledger.notes))
    }
}
