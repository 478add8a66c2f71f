//! Events, the earliest first.

use std::collections::BTreeMap;

use super::{Asked, Cell, Kind, Listed, columns};
use crate::store::{Reader, Result, StoredEvent};

const COLUMNS: [(&str, Kind); 8] = [
    ("bank", Kind::Text),
    ("device", Kind::Text),
    ("first_utc", Kind::Time),
    ("last_utc", Kind::Time),
    ("kind", Kind::Text),
    ("priority", Kind::Text),
    ("count", Kind::Whole),
    ("text", Kind::Text),
];

/// Reads all events that were seen in the span asked for: those of the banks, and those that concern none.
pub fn read(reader: &Reader, asked: &Asked) -> Result<Listed> {
    let mut events = BTreeMap::new();
    for bank in &asked.banks {
        for event in reader.events(Some(&bank.name), asked.from, asked.to, usize::MAX)? {
            events.insert((event.first_utc, event.id), event);
        }
    }
    Ok(Listed::new(columns(&COLUMNS), 2, events.values().map(row).collect()))
}

fn row(stored: &StoredEvent) -> Vec<Cell> {
    let maybe = |text: &Option<String>| text.as_deref().map_or(Cell::Empty, Cell::text);
    let event = &stored.event;
    vec![
        maybe(&event.bank),
        maybe(&event.device),
        Cell::time(stored.first_utc),
        Cell::time(stored.last_utc),
        Cell::text(&event.kind),
        Cell::text(&event.priority),
        Cell::Whole(stored.count),
        Cell::text(&event.text),
    ]
}
