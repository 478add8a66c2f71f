//! `taffrail info`: the store in numbers.

use std::fmt::Write as _;
use std::ops::Range;
use std::path::Path;

use jiff::tz::TimeZone;
use jiff::{Timestamp, ZonedDateTime};
use serde::Serialize;

use super::Failure;
use super::amount::{bytes, grouped};
use super::paper::{COLUMNS, print, print_json};
use super::which::WhichStore;
use crate::clock::Clock;
use crate::quantity::UtcMs;
use crate::review::rfc3339;
use crate::store::{self, StoreInfo};

/// Arguments of `info`.
#[derive(Debug, clap::Args)]
pub struct InfoArguments {
    #[command(flatten)]
    which: WhichStore,
    /// Tell what each table takes, too; every page of the store is read for it
    #[arg(long)]
    tables: bool,
    /// Print one JSON object instead of text
    #[arg(long)]
    json: bool,
}

/// What `--json` prints. Bytes are bytes, times are UTC.
#[derive(Serialize)]
struct View {
    path: String,
    layout: i64,
    file_bytes: u64,
    log_bytes: u64,
    slate_bytes: u64,
    free_bytes: u64,
    first: Option<String>,
    last: Option<String>,
    days: Option<f64>,
    samples: u64,
    bytes_per_sample: Option<f64>,
    growth_bytes_per_day: Option<f64>,
    growth_over_days: Option<f64>,
    days_to_full: Option<f64>,
    /// By hours of the boot that began on the present local day; the file system's own journal is not in it.
    written_today_bytes: Option<u64>,
    set_aside: Option<u64>,
    series: Vec<SeriesView>,
    /// Only where asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    tables: Option<Vec<TableView>>,
}

#[derive(Serialize)]
struct SeriesView {
    bank: String,
    name: String,
    kind: String,
    samples: u64,
    channels: Vec<String>,
}

#[derive(Serialize)]
struct TableView {
    name: String,
    bytes: u64,
}

/// Runs the command.
pub fn info(arguments: &InfoArguments) -> Result<(), Failure> {
    let which = arguments.which.find()?;
    let today = day_of(Clock::system().wall().utc, &which.zone);
    let found = store::info(&which.store, today).map_err(|error| Failure::daemon(&error))?;
    let tables = arguments.tables.then(|| store::table_sizes(&which.store)).transpose();
    let view = view(&which.store, &found, tables.map_err(|error| Failure::daemon(&error))?);
    if arguments.json { print_json(&view) } else { print(&text(&view)) }
}

/// The local day that a time lies in, 23 to 25 hours long.
fn day_of(now: UtcMs, zone: &TimeZone) -> Range<UtcMs> {
    let midnight = |from: &ZonedDateTime| from.start_of_day().map(|start| UtcMs(start.timestamp().as_millisecond()));
    let local = Timestamp::from_millisecond(now.0).unwrap_or_default().to_zoned_datetime(zone.clone());
    let next = local.tomorrow();
    match (midnight(&local), next.and_then(|next| midnight(&next))) {
        (Ok(from), Ok(to)) => from..to,
        // At the ends of the calendar there is no day: nothing was written then.
        _ => now..now,
    }
}

fn view(path: &Path, found: &StoreInfo, tables: Option<Vec<(String, u64)>>) -> View {
    View {
        path: path.display().to_string(),
        layout: found.layout,
        file_bytes: found.file_bytes,
        log_bytes: found.log_bytes,
        slate_bytes: found.slate_bytes,
        free_bytes: found.free_bytes,
        first: found.span.and_then(|(first, _)| rfc3339(first)),
        last: found.span.and_then(|(_, last)| rfc3339(last)),
        days: found.span.map(|(first, last)| last.seconds_since(first) / 86_400.0),
        samples: found.device_samples(),
        bytes_per_sample: found.bytes_per_sample(),
        growth_bytes_per_day: found.growth.map(|growth| growth.bytes_per_day),
        growth_over_days: found.growth.map(|growth| growth.over_days),
        days_to_full: found.days_to_full(),
        written_today_bytes: found.written_bytes,
        set_aside: found.set_aside,
        series: found
            .series
            .iter()
            .map(|size| SeriesView {
                bank: size.info.bank.clone(),
                name: size.info.name.clone(),
                kind: size.info.kind.clone(),
                samples: size.samples,
                channels: size.info.channels.clone(),
            })
            .collect(),
        tables: tables.map(|all| all.into_iter().map(|(name, bytes)| TableView { name, bytes }).collect()),
    }
}

fn text(view: &View) -> String {
    let mut lines = vec![("store", view.path.clone())];
    let beside = format!("log {}, slate {}", bytes(view.log_bytes as f64), bytes(view.slate_bytes as f64));
    lines.push(("file", format!("{}, and beside it: {beside}", bytes(view.file_bytes as f64))));
    lines.push(("layout", view.layout.to_string()));
    lines.push(match (&view.first, &view.last, view.days) {
        (Some(first), Some(last), Some(days)) => ("span", format!("{first} to {last}, {days:.1} days")),
        _ => ("span", "no sample whose time is known".to_owned()),
    });
    lines.push(("samples", samples_words(view)));
    lines.push(("growth", growth_words(view)));
    lines.push(("free", free_words(view)));
    lines.push((
        "written",
        match view.written_today_bytes {
            Some(written) => format!("{} today, the file system's own journal not counted", bytes(written as f64)),
            None => "not counted in this layout".to_owned(),
        },
    ));
    lines.push((
        "set aside",
        match view.set_aside {
            Some(pieces) => format!("{} pieces that could not be read", grouped(pieces)),
            None => "not known in this layout".to_owned(),
        },
    ));
    let mut out = String::new();
    for (label, words) in lines {
        let _ = writeln!(out, "{label:<10} {words}");
    }
    for series in &view.series {
        let head = format!("\n{} / {}: {} samples", series.bank, series.name, grouped(series.samples));
        let _ = writeln!(out, "{head}\n{}", wrapped(&series.channels));
    }
    if let Some(tables) = &view.tables {
        let _ = writeln!(out);
        for table in tables {
            let _ = writeln!(out, "{:<24} {:>10}", table.name, bytes(table.bytes as f64));
        }
    }
    out
}

fn samples_words(view: &View) -> String {
    match view.bytes_per_sample {
        Some(each) => format!("{} of devices, {each:.2} bytes each with all tables and indexes", grouped(view.samples)),
        None => "none of any device".to_owned(),
    }
}

fn growth_words(view: &View) -> String {
    match (view.growth_bytes_per_day, view.growth_over_days) {
        (Some(growth), Some(days)) => format!("{} a day, over the last {days:.1} days stored", bytes(growth)),
        _ => "not known yet, six hours of samples are needed".to_owned(),
    }
}

fn free_words(view: &View) -> String {
    let free = bytes(view.free_bytes as f64);
    match view.days_to_full {
        Some(days) if days < 1000.0 => format!("{free} on its card, full in {days:.0} days"),
        Some(days) => format!("{free} on its card, full in {:.0} years", days / 365.25),
        None => format!("{free} on its card"),
    }
}

/// Words on indented lines that fit the width.
fn wrapped(words: &[String]) -> String {
    let mut lines = vec![String::from(" ")];
    for (place, word) in words.iter().enumerate() {
        let comma = if place + 1 < words.len() { "," } else { "" };
        let last = lines.last().map_or(0, String::len);
        if last > 1 && last + 1 + word.len() + comma.len() > COLUMNS {
            lines.push(String::from(" "));
        }
        if let Some(line) = lines.last_mut() {
            let _ = write!(line, " {word}{comma}");
        }
    }
    lines.join("\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_local_day_has_as_many_hours_as_the_zone_gives_it() {
        let zone = TimeZone::get("Europe/Lisbon").expect("known");
        let hours = |text: &str| {
            let now = UtcMs(text.parse::<Timestamp>().expect("a time").as_millisecond());
            let day = day_of(now, &zone);
            assert!(day.contains(&now));
            (day.end.0 - day.start.0) / 3_600_000
        };
        assert_eq!(hours("2026-03-29T12:00:00Z"), 23);
        assert_eq!(hours("2026-10-25T12:00:00Z"), 25);
        assert_eq!(hours("2026-06-01T23:30:00Z"), 24);
        assert!(day_of(UtcMs(i64::MAX), &zone).start <= UtcMs(i64::MAX), "no panic at the end of the calendar");
    }

    #[test]
    fn no_line_of_channels_is_wider_than_the_screen() {
        let names: Vec<String> = (0..40).map(|number| format!("cell_{number}_voltage_v")).collect();
        let text = wrapped(&names);
        assert!(text.lines().all(|line| line.len() <= COLUMNS), "{text}");
        assert!(names.iter().all(|name| text.contains(name.as_str())));
    }
}
