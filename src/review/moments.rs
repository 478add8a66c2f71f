//! Moments for times that somebody states.

use super::values::rfc3339;
use crate::quantity::{Moment, MonoRange, UtcMs};
use crate::store::{Reader, Result, StoredPassage};

/// The moment of a time, or the first that was watched after it and before `until`; if none was, why, for people.
///
/// # Errors
/// What the store reports.
pub fn first_moment(
    reader: &Reader,
    bank: &str,
    time: UtcMs,
    until: UtcMs,
) -> Result<std::result::Result<Moment, String>> {
    if let Some(at) = reader.moment_at(bank, time)? {
        return Ok(Ok(at));
    }
    let watched = reader.watched(bank, time, UtcMs(until.0.saturating_add(1)))?;
    let first = watched.iter().min_by_key(|range| range.utc(range.from));
    Ok(first.map(|range| Moment { boot: range.boot, mono: range.from }).ok_or_else(|| nothing(bank, time, until)))
}

/// The moment of a time, or the last that was watched before it and after `since`; if none was, why, for people.
///
/// # Errors
/// What the store reports.
pub fn last_moment(
    reader: &Reader,
    bank: &str,
    since: UtcMs,
    time: UtcMs,
) -> Result<std::result::Result<Moment, String>> {
    if let Some(at) = reader.moment_at(bank, time)? {
        return Ok(Ok(at));
    }
    let watched = reader.watched(bank, since, UtcMs(time.0.saturating_add(1)))?;
    let end = |range: &MonoRange| Moment { boot: range.boot, mono: range.to + -1 };
    let last = watched.iter().max_by_key(|range| range.utc(range.to));
    Ok(last.map(end).ok_or_else(|| nothing(bank, since, time)))
}

/// Moments of a first and a last time, each where one was given.
pub type Ends = (Option<Moment>, Option<Moment>);

/// The moments of new ends of a passage, as far as they are given; its other end bounds the search. If one cannot be
/// found, why, for people.
///
/// # Errors
/// What the store reports.
pub fn new_ends(
    reader: &Reader,
    passage: &StoredPassage,
    begin: Option<UtcMs>,
    end: Option<UtcMs>,
) -> Result<std::result::Result<Ends, String>> {
    let until = end.or(passage.end_utc).or(passage.begin_utc);
    let since = begin.or(passage.begin_utc);
    let first = begin.map(|time| first_moment(reader, &passage.bank, time, until.unwrap_or(time).max(time)));
    let last = end.map(|time| last_moment(reader, &passage.bank, since.unwrap_or(time).min(time), time));
    let (first, last) = (first.transpose()?.transpose(), last.transpose()?.transpose());
    Ok(first.and_then(|first| last.map(|last| (first, last))))
}

fn nothing(bank: &str, from: UtcMs, to: UtcMs) -> String {
    let words = |time| rfc3339(time).unwrap_or_else(|| "an unknown time".to_owned());
    format!("there are no samples of bank \"{bank}\" from {} to {}", words(from), words(to))
}
