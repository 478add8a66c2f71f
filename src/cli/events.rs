//! `taffrail events`: what happened, as a list.

use std::fmt::Write as _;

use serde::Serialize;

use super::Failure;
use super::paper::{print, print_json, wrapped};
use super::when::LocalTimes;
use super::which::WhichStore;
use crate::http::EventView;
use crate::quantity::UtcMs;
use crate::store::Reader;

/// Most events that are looked through for those that are wanted.
const MOST: usize = 1_000_000;

/// Arguments of `events`.
#[derive(Debug, clap::Args)]
pub struct EventsArguments {
    #[command(flatten)]
    which: WhichStore,
    /// Only those of this bank; what concerns no bank is left out then
    #[arg(long, value_name = "NAME")]
    bank: Option<String>,
    /// Only those of this kind, such as weak-monobloc
    #[arg(long, value_name = "KIND")]
    kind: Option<String>,
    /// Only those of this priority: alarm, warning, caution or note
    #[arg(long, value_name = "PRIORITY", value_parser = ["alarm", "warning", "caution", "note"])]
    priority: Option<String>,
    /// Only those seen at or after this time: local such as "2026-05-01 08:30", or 2026-05-01T07:30:00Z
    #[arg(long, value_name = "TIME")]
    from: Option<String>,
    /// Only those first seen before this time
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// At most this many, the latest
    #[arg(long, value_name = "COUNT", default_value_t = 50)]
    limit: usize,
    /// Print one JSON object instead of a list
    #[arg(long)]
    json: bool,
}

/// What `--json` prints, the latest first.
#[derive(Serialize)]
struct View {
    events: Vec<EventView>,
}

/// Runs the command.
pub fn events(arguments: &EventsArguments) -> Result<(), Failure> {
    let which = arguments.which.find()?;
    let times = LocalTimes::of(which.zone);
    let reader = Reader::open(&which.store).map_err(|error| Failure::daemon(&error))?;
    let from = arguments.from.as_ref().map(|text| times.read("--from", text)).transpose()?;
    let to = arguments.to.as_ref().map(|text| times.read("--to", text)).transpose()?;
    let stored = if from.is_none() && to.is_none() {
        // Also those that cannot be placed in time.
        reader.latest_events(MOST)
    } else {
        reader.events(None, from.unwrap_or(UtcMs(i64::MIN)), to.unwrap_or(UtcMs(i64::MAX)), MOST)
    };
    let mut stored = stored.map_err(|error| Failure::daemon(&error))?;
    let same = |wanted: &Option<String>, found: &str| wanted.as_ref().is_none_or(|wanted| wanted == found);
    stored.retain(|stored| {
        let event = &stored.event;
        same(&arguments.bank, event.bank.as_deref().unwrap_or(""))
            && same(&arguments.kind, &event.kind)
            && same(&arguments.priority, &event.priority)
    });
    // The store counts them in the order of its commits; those without a time come last.
    stored.sort_by_key(|stored| std::cmp::Reverse((stored.last_utc, stored.id)));
    stored.truncate(arguments.limit);
    let events: Vec<EventView> = stored.into_iter().map(EventView::new).collect();
    if arguments.json { print_json(&View { events }) } else { print(&text(&events, &times)) }
}

fn text(events: &[EventView], times: &LocalTimes) -> String {
    if events.is_empty() {
        return "No such event is stored.\n".to_owned();
    }
    let mut out = format!("Times of {}, the latest first.\n", times.zone_name());
    for event in events {
        let about: Vec<&str> = [&event.bank, &event.device].into_iter().flatten().map(String::as_str).collect();
        let times_told = if event.count > 1 { format!(", {} times", event.count) } else { String::new() };
        let time = times.minute(event.time.as_deref());
        // Writing into a text cannot fail.
        let _ = writeln!(out, "\n{time}  {:<8} {}  {}{times_told}", event.priority, event.kind, about.join(" / "));
        out.push_str(&wrapped(&event.text, 2));
    }
    out
}
