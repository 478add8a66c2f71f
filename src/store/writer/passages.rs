//! Passages: what somebody does to them, and how what is found gives way to that.
//!
//! Marks by hand may overlap each other: a harbour may be worth a mark of its own within a long passage. A passage that was
//! found and overlaps a mark by hand gives way to it, and is not found again.

use std::cmp::Ordering;

use rusqlite::{Connection, OptionalExtension, Row, params};

use super::Writer;
use super::kept::Trouble;
use crate::passage::Found;
use crate::quantity::{Moment, Timeline};
use crate::store::common::{self, moment};
use crate::store::error::Result;
use crate::store::kept::PassageEdit;

type Done<T> = std::result::Result<T, Trouble>;

impl Writer {
    /// Does to passages what somebody asks; gives the number of the passage that was changed or made. What it touches
    /// counts as marked by hand from now on. A summary stays only where the ends do.
    ///
    /// # Errors
    /// [`crate::store::Error::Passage`] if it cannot be done, in words; or what SQLite reports. Nothing is changed then.
    pub fn edit_passage(&mut self, edit: &PassageEdit) -> Result<i64> {
        self.commit()?;
        self.at_once("change passages", |tx| {
            let order = Lived(common::load_timeline(tx)?);
            match edit {
                PassageEdit::Mark { bank, begin, end, name } => mark(tx, &order, bank, (*begin, *end), name),
                PassageEdit::Change { id, name, note, begin, end } => {
                    let row = row_of(tx, *id)?;
                    change(tx, &order, &row, (*begin, *end), (name.as_deref(), note.as_deref()))
                }
                PassageEdit::Merge { ids } => merge(tx, &order, ids),
                PassageEdit::Split { id, at } => split(tx, &order, &row_of(tx, *id)?, *at),
                PassageEdit::Remove { id } => {
                    let row = row_of(tx, *id)?;
                    tx.prepare_cached("UPDATE passage SET removed = 1, origin = 'hand' WHERE id = ?1")?
                        .execute([row.id])?;
                    Ok(row.id)
                }
            }
        })
    }
}

/// The order in which things happened: by the clock between boots, as far as it can be told, else by their numbers.
pub(super) struct Lived(pub(super) Timeline);

impl Lived {
    fn compare(&self, a: Moment, b: Moment) -> Ordering {
        if a.boot == b.boot {
            return a.mono.cmp(&b.mono);
        }
        let utc = |at| self.0.utc(at).map(|placed| placed.utc);
        match utc(a).zip(utc(b)) {
            Some((a_utc, b_utc)) => a_utc.cmp(&b_utc).then(a.boot.cmp(&b.boot)),
            None => a.boot.cmp(&b.boot),
        }
    }

    fn is_before(&self, a: Moment, b: Moment) -> bool {
        self.compare(a, b) == Ordering::Less
    }

    /// True if two spans have more than an end in common; one without an end goes on.
    pub(super) fn overlap(&self, a: (Moment, Option<Moment>), b: (Moment, Option<Moment>)) -> bool {
        let begins_before_end = |begin: Moment, end: Option<Moment>| end.is_none_or(|end| self.is_before(begin, end));
        begins_before_end(a.0, b.1) && begins_before_end(b.0, a.1) || a.0 == b.0
    }
}

/// A passage as it lies in its table.
pub(super) struct PassageRow {
    pub(super) id: i64,
    bank: String,
    pub(super) begin: Moment,
    pub(super) end: Option<Moment>,
    name: String,
    note: String,
}

const ROW: &str = "SELECT id, bank, boot, mono_ms, end_boot, end_mono_ms, name, note FROM passage";

impl PassageRow {
    fn of(row: &Row<'_>) -> rusqlite::Result<PassageRow> {
        let end = match (row.get::<_, Option<u32>>(4)?, row.get::<_, Option<i64>>(5)?) {
            (Some(boot), Some(mono_ms)) => Some(moment(boot, mono_ms)),
            _ => None,
        };
        Ok(PassageRow {
            id: row.get(0)?,
            bank: row.get(1)?,
            begin: moment(row.get(2)?, row.get(3)?),
            end,
            name: row.get(6)?,
            note: row.get(7)?,
        })
    }
}

fn row_of(tx: &Connection, id: i64) -> Done<PassageRow> {
    let mut select = tx.prepare_cached(&format!("{ROW} WHERE id = ?1 AND removed = 0"))?;
    select.query_row([id], PassageRow::of).optional()?.ok_or_else(|| words(format!("there is no passage {id}")))
}

/// The passages of a bank that somebody has marked, changed or removed.
pub(super) fn by_hand(tx: &Connection, bank: &str) -> rusqlite::Result<Vec<PassageRow>> {
    tx.prepare_cached(&format!("{ROW} WHERE bank = ?1 AND origin = 'hand' ORDER BY id"))?
        .query_map([bank], PassageRow::of)?
        .collect()
}

fn words(text: String) -> Trouble {
    Trouble::Words(text)
}

fn check_span(tx: &Connection, order: &Lived, begin: Moment, end: Option<Moment>) -> Done<()> {
    for at in [Some(begin), end].into_iter().flatten() {
        if !tx.prepare_cached("SELECT 1 FROM boot WHERE no = ?1")?.exists([at.boot.0])? {
            return Err(words(format!("nothing is stored of boot {}", at.boot.0)));
        }
    }
    match end {
        Some(end) if !order.is_before(begin, end) => {
            Err(words("a passage ends after it begins; its end here is not later than its beginning".to_owned()))
        }
        _ => Ok(()),
    }
}

/// Passages that were found and overlap what a hand has marked give way.
fn give_way(tx: &Connection, order: &Lived, bank: &str, span: (Moment, Option<Moment>)) -> rusqlite::Result<()> {
    let found: Vec<PassageRow> = tx
        .prepare_cached(&format!("{ROW} WHERE bank = ?1 AND origin = 'found'"))?
        .query_map([bank], PassageRow::of)?
        .collect::<rusqlite::Result<_>>()?;
    for row in found.iter().filter(|row| order.overlap((row.begin, row.end), span)) {
        tx.prepare_cached("DELETE FROM passage WHERE id = ?1")?.execute([row.id])?;
    }
    Ok(())
}

fn mark(tx: &Connection, order: &Lived, bank: &str, (begin, end): (Moment, Moment), name: &str) -> Done<i64> {
    check_span(tx, order, begin, Some(end))?;
    give_way(tx, order, bank, (begin, Some(end)))?;
    insert(tx, bank, (begin, Some(end)), (name, ""))
}

fn insert(
    tx: &Connection,
    bank: &str,
    (begin, end): (Moment, Option<Moment>),
    (name, note): (&str, &str),
) -> Done<i64> {
    tx.prepare_cached(
        "INSERT INTO passage (bank, boot, mono_ms, end_boot, end_mono_ms, origin, name, note)
         VALUES (?1, ?2, ?3, ?4, ?5, 'hand', ?6, ?7)",
    )?
    .execute(params![
        bank,
        begin.boot.0,
        begin.mono.0,
        end.map(|end| end.boot.0),
        end.map(|end| end.mono.0),
        name,
        note
    ])?;
    Ok(tx.last_insert_rowid())
}

fn change(
    tx: &Connection,
    order: &Lived,
    row: &PassageRow,
    (begin, end): (Option<Moment>, Option<Moment>),
    (name, note): (Option<&str>, Option<&str>),
) -> Done<i64> {
    tx.prepare_cached(
        "UPDATE passage SET origin = 'hand', name = coalesce(?2, name), note = coalesce(?3, note) WHERE id = ?1",
    )?
    .execute(params![row.id, name, note])?;
    let span = (begin.unwrap_or(row.begin), end.or(row.end));
    if span != (row.begin, row.end) {
        check_span(tx, order, span.0, span.1)?;
        set_span(tx, row.id, span)?;
        give_way(tx, order, &row.bank, span)?;
    }
    Ok(row.id)
}

/// Other ends; what it came to no longer holds.
pub(super) fn set_span(tx: &Connection, id: i64, (begin, end): (Moment, Option<Moment>)) -> rusqlite::Result<()> {
    tx.prepare_cached(
        "UPDATE passage SET boot = ?2, mono_ms = ?3, end_boot = ?4, end_mono_ms = ?5, summary = NULL, settled = 0
         WHERE id = ?1",
    )?
    .execute(params![id, begin.boot.0, begin.mono.0, end.map(|end| end.boot.0), end.map(|end| end.mono.0)])
    .map(drop)
}

fn merge(tx: &Connection, order: &Lived, ids: &[i64]) -> Done<i64> {
    let mut rows = Vec::new();
    for id in ids {
        if rows.iter().all(|row: &PassageRow| row.id != *id) {
            rows.push(row_of(tx, *id)?);
        }
    }
    rows.sort_by(|a, b| order.compare(a.begin, b.begin));
    let [first, rest @ ..] = &rows[..] else { return Err(words("name at least two passages to merge".to_owned())) };
    if rest.is_empty() {
        return Err(words("name at least two passages to merge".to_owned()));
    }
    if let Some(other) = rest.iter().find(|row| row.bank != first.bank) {
        return Err(words(format!(
            "passage {} is of bank \"{}\" and passage {} of bank \"{}\"; only passages of one bank can be merged",
            first.id, first.bank, other.id, other.bank
        )));
    }
    let end = rows.iter().map(|row| row.end).reduce(|a, b| match (a, b) {
        (Some(a), Some(b)) => Some(if order.is_before(a, b) { b } else { a }),
        _ => None,
    });
    let joined = |pick: fn(&PassageRow) -> &str, between: &str| {
        let parts: Vec<&str> = rows.iter().map(pick).filter(|part| !part.is_empty()).collect();
        parts.join(between)
    };
    for row in rest {
        // The span of the one that stays keeps it from being found again.
        tx.prepare_cached("DELETE FROM passage WHERE id = ?1")?.execute([row.id])?;
    }
    tx.prepare_cached("UPDATE passage SET origin = 'hand', name = ?2, note = ?3 WHERE id = ?1")?.execute(params![
        first.id,
        joined(|row| &row.name, ", "),
        joined(|row| &row.note, "\n")
    ])?;
    let span = (first.begin, end.flatten());
    set_span(tx, first.id, span)?;
    give_way(tx, order, &first.bank, span)?;
    Ok(first.id)
}

fn split(tx: &Connection, order: &Lived, row: &PassageRow, at: Moment) -> Done<i64> {
    let within = order.is_before(row.begin, at) && row.end.is_none_or(|end| order.is_before(at, end));
    if !within {
        return Err(words(format!("passage {} can be cut only at a time between its beginning and its end", row.id)));
    }
    check_span(tx, order, at, row.end)?;
    tx.prepare_cached("UPDATE passage SET origin = 'hand' WHERE id = ?1")?.execute([row.id])?;
    set_span(tx, row.id, (row.begin, Some(at)))?;
    insert(tx, &row.bank, (at, row.end), (&row.name, ""))
}

/// Keeps passages that were found. One that somebody has marked, changed or removed is left alone, and what overlaps it is
/// not found; but where such a one still went on, its end is found.
pub(super) fn write_found(tx: &Connection, bank: &str, all: &[Found]) -> rusqlite::Result<()> {
    if all.is_empty() {
        return Ok(());
    }
    let order = Lived(common::load_timeline(tx)?);
    let mut hand = by_hand(tx, bank)?;
    for found in all {
        if !brought_up_to_date(tx, bank, found)? && !ended(tx, &order, &mut hand, found)? {
            let span = (found.begin, found.end.or(Some(found.begin)));
            if !hand.iter().any(|row| order.overlap((row.begin, row.end), span)) {
                insert_found(tx, bank, found)?;
            }
        }
    }
    Ok(())
}

/// Brings one that was found before up to date; false if there is none that begins there.
fn brought_up_to_date(tx: &Connection, bank: &str, Found { begin, end }: &Found) -> rusqlite::Result<bool> {
    let id: Option<i64> = tx
        .prepare_cached("SELECT id FROM passage WHERE bank = ?1 AND boot = ?2 AND mono_ms = ?3 AND origin = 'found'")?
        .query_row(params![bank, begin.boot.0, begin.mono.0], |row| row.get(0))
        .optional()?;
    id.map(|id| set_span(tx, id, (*begin, *end))).transpose().map(|done| done.is_some())
}

/// Ends one that a hand has touched while it went on; false if there was none.
fn ended(tx: &Connection, order: &Lived, hand: &mut [PassageRow], found: &Found) -> rusqlite::Result<bool> {
    let Some(end) = found.end else { return Ok(false) };
    let goes_on = |row: &&mut PassageRow| row.end.is_none() && order.is_before(row.begin, end);
    let Some(row) = hand.iter_mut().find(goes_on) else { return Ok(false) };
    row.end = Some(end);
    set_span(tx, row.id, (row.begin, row.end)).map(|()| true)
}

fn insert_found(tx: &Connection, bank: &str, Found { begin, end }: &Found) -> rusqlite::Result<()> {
    tx.prepare_cached(
        "INSERT INTO passage (bank, boot, mono_ms, end_boot, end_mono_ms, origin) VALUES (?1, ?2, ?3, ?4, ?5, 'found')",
    )?
    .execute(params![bank, begin.boot.0, begin.mono.0, end.map(|end| end.boot.0), end.map(|end: Moment| end.mono.0)])
    .map(drop)
}

#[cfg(test)]
mod tests;
