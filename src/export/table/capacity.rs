//! Capacity findings, with what is known of their bank beside each, so that findings of many boats can be compared.

use super::{Asked, Cell, Described, Kind, Listed, columns};
use crate::battery::Bank;
use crate::health::Finding;
use crate::quantity::Estimate;
use crate::store::{Reader, Result, StoredFinding};

const COLUMNS: [(&str, Kind); 21] = [
    ("bank", Kind::Text),
    ("utc", Kind::Time),
    ("from_utc", Kind::Time),
    ("chemistry", Kind::Text),
    ("rated_capacity_ah", Kind::Number),
    ("rated_hours", Kind::Number),
    ("cells_in_series", Kind::Whole),
    ("watched", Kind::Text),
    ("charge_ah", Kind::Number),
    ("soc_fall", Kind::Number),
    ("load_a", Kind::Number),
    ("hours", Kind::Number),
    ("temperature_c", Kind::Number),
    ("raw_ah", Kind::Number),
    ("raw_std_dev_ah", Kind::Number),
    ("at_rating_ah", Kind::Number),
    ("at_rating_std_dev_ah", Kind::Number),
    ("combined_ah", Kind::Number),
    ("combined_std_dev_ah", Kind::Number),
    ("believed", Kind::Flag),
    ("law", Kind::Text),
];

/// Reads all findings that are asked for.
pub fn read(reader: &Reader, asked: &Asked) -> Result<Listed> {
    let mut rows = Vec::new();
    for bank in &asked.banks {
        let findings = reader.findings(&bank.name, "capacity", asked.from, asked.to)?;
        rows.extend(findings.iter().filter_map(|stored| row(bank, stored)));
    }
    Ok(Listed::new(columns(&COLUMNS), 1, rows))
}

fn row(of: &Described, stored: &StoredFinding) -> Option<Vec<Cell>> {
    let Finding::Capacity(found) = &stored.finding else { return None };
    let known = |part: fn(&Bank) -> f64| Cell::maybe(of.bank.as_ref().map(part));
    let combined = |part: fn(&Estimate) -> f64| Cell::maybe(found.combined_ah.as_ref().map(part));
    Some(vec![
        Cell::text(&of.name),
        Cell::time(stored.to_utc),
        Cell::time(stored.from_utc),
        of.bank.as_ref().map_or(Cell::Empty, |bank| Cell::text(bank.chemistry.word())),
        known(|bank| bank.rated_capacity_ah),
        known(|bank| bank.rated_hours),
        of.bank.as_ref().map_or(Cell::Empty, |bank| Cell::Whole(i64::from(bank.cells_in_series))),
        Cell::text(found.watched.word()),
        Cell::number(found.charge_ah),
        Cell::number(found.soc_fall.value),
        Cell::number(found.load_a),
        Cell::number(found.hours),
        Cell::maybe(found.temperature_c),
        Cell::number(found.raw_ah.value),
        Cell::number(found.raw_ah.std_dev),
        Cell::number(found.rated_ah.value),
        Cell::number(found.rated_ah.std_dev),
        combined(|estimate| estimate.value),
        combined(|estimate| estimate.std_dev),
        Cell::Flag(found.believed),
        Cell::text(&found.law),
    ])
}
