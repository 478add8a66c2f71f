//! Passages with what they come to.

use super::{Asked, Cell, Kind, Listed, columns};
use crate::passage::{At, Summary};
use crate::quantity::BandedSoc;
use crate::store::{Reader, Result, StoredPassage};

const COLUMNS: [(&str, Kind); 38] = [
    ("bank", Kind::Text),
    ("id", Kind::Whole),
    ("begin_utc", Kind::Time),
    ("end_utc", Kind::Time),
    ("origin", Kind::Text),
    ("name", Kind::Text),
    ("note", Kind::Text),
    ("duration_s", Kind::Number),
    ("covered_s", Kind::Number),
    ("charge_in_ah", Kind::Number),
    ("charge_out_ah", Kind::Number),
    ("energy_in_wh", Kind::Number),
    ("energy_out_wh", Kind::Number),
    ("soc_begin", Kind::Number),
    ("soc_end", Kind::Number),
    ("soc_end_low", Kind::Number),
    ("soc_end_high", Kind::Number),
    ("soc_lowest", Kind::Number),
    ("soc_lowest_low", Kind::Number),
    ("soc_lowest_high", Kind::Number),
    ("reconciled", Kind::Flag),
    ("voltage_min_v", Kind::Number),
    ("voltage_max_v", Kind::Number),
    ("current_min_a", Kind::Number),
    ("current_max_a", Kind::Number),
    ("power_min_w", Kind::Number),
    ("power_max_w", Kind::Number),
    ("temperature_min_c", Kind::Number),
    ("temperature_max_c", Kind::Number),
    ("above_c5_s", Kind::Number),
    ("above_c2_s", Kind::Number),
    ("above_1c_s", Kind::Number),
    ("deep_excursions", Kind::Whole),
    ("mean_load_a", Kind::Number),
    ("load_95_a", Kind::Number),
    ("below_reserve_s", Kind::Number),
    ("distance_nm", Kind::Number),
    ("settled", Kind::Flag),
];

/// Reads all passages that begin in the span asked for.
pub fn read(reader: &Reader, asked: &Asked) -> Result<Listed> {
    let mut rows = Vec::new();
    for bank in &asked.banks {
        let passages = reader.passages(&bank.name)?;
        let wanted = passages
            .iter()
            .filter(|passage| passage.begin_utc.is_some_and(|begin| asked.from <= begin && begin < asked.to));
        rows.extend(wanted.map(row));
    }
    Ok(Listed::new(columns(&COLUMNS), 2, rows))
}

fn row(passage: &StoredPassage) -> Vec<Cell> {
    let mut row = vec![
        Cell::text(&passage.bank),
        Cell::Whole(passage.id),
        Cell::time(passage.begin_utc),
        Cell::time(passage.end_utc),
        Cell::text(passage.origin.word()),
        Cell::text(&passage.name),
        Cell::text(&passage.note),
    ];
    match &passage.summary {
        Some(summary) => row.extend(summed(summary)),
        None => row.resize(COLUMNS.len() - 1, Cell::Empty),
    }
    row.push(Cell::Flag(passage.settled));
    row
}

fn summed(summary: &Summary) -> impl Iterator<Item = Cell> {
    let part = |soc: &Option<BandedSoc>, part: fn(&BandedSoc) -> f64| Cell::maybe(soc.as_ref().map(part));
    let at = |extreme: &Option<At>| Cell::maybe(extreme.map(|extreme| extreme.value));
    let s = summary;
    [
        Cell::maybe(s.duration_s),
        Cell::number(s.covered_s),
        Cell::number(s.charge_in_ah),
        Cell::number(s.charge_out_ah),
        Cell::number(s.energy_in_wh),
        Cell::number(s.energy_out_wh),
        part(&s.soc_begin, |soc| soc.soc),
        part(&s.soc_end, |soc| soc.soc),
        part(&s.soc_end, |soc| soc.band.low),
        part(&s.soc_end, |soc| soc.band.high),
        part(&s.soc_lowest, |soc| soc.soc),
        part(&s.soc_lowest, |soc| soc.band.low),
        part(&s.soc_lowest, |soc| soc.band.high),
        Cell::Flag(s.reconciled),
        at(&s.voltage_min),
        at(&s.voltage_max),
        at(&s.current_min),
        at(&s.current_max),
        at(&s.power_min),
        at(&s.power_max),
        at(&s.temperature_min),
        at(&s.temperature_max),
        Cell::number(s.above_c5_s),
        Cell::number(s.above_c2_s),
        Cell::number(s.above_1c_s),
        Cell::Whole(i64::from(s.deep_excursions)),
        Cell::maybe(s.mean_load_a),
        Cell::maybe(s.load_95_a),
        Cell::number(s.below_reserve_s),
        Cell::maybe(s.distance_nm),
    ]
    .into_iter()
}
