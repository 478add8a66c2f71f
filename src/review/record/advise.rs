//! What to do, by the evidence of the last months.

use super::stored::{Dated, Stored, items};
use super::views::AdviceView;
use crate::battery::Bank;
use crate::health::advice::{Evidence, Recent, advice};
use crate::quantity::UtcMs;
use crate::store::{Reader, Result};

const DAY_MS: i64 = 86_400_000;
/// What counts as lately.
const LATELY_MS: i64 = 92 * DAY_MS;
/// What lately is compared with: the year before.
const BEFORE_MS: i64 = 365 * DAY_MS;
/// A connection that was told of is spoken of so long.
const CONNECTION_MS: i64 = 30 * DAY_MS;
/// Events that are looked through.
const MOST_EVENTS: usize = 2000;

/// Times that the rules need and no list has.
pub(super) struct Times {
    /// The last moment that was looked at.
    pub(super) now: Option<UtcMs>,
    /// Days since the bank was full.
    pub(super) since_full: Option<f64>,
    /// Days until the next capacity test; negative when it is overdue.
    pub(super) to_test: Option<f64>,
}

/// What the rules say.
pub(super) fn advice_views(reader: &Reader, bank: &Bank, stored: &Stored, times: &Times) -> Result<Vec<AdviceView>> {
    let Some(now) = times.now else { return Ok(Vec::new()) };
    let (recent, before) = (UtcMs(now.0 - LATELY_MS), UtcMs(now.0 - LATELY_MS - BEFORE_MS));
    let (days, loops) = (since(&stored.days, recent, now), since(&stored.loops, recent, now));
    let (loops_before, balance) = (since(&stored.loops, before, recent), since(&stored.balance, recent, now));
    let lists = Recent { days: &days, loops: &loops, loops_before: &loops_before, balance: &balance };
    let evidence = Evidence {
        days_since_full: times.since_full,
        days_to_test: times.to_test,
        connection: connection(reader, bank, now)?,
        ..Evidence::of(bank, &lists)
    };
    let said = advice(&evidence).into_iter().map(|one| AdviceView {
        rule: one.rule.to_owned(),
        priority: one.priority.to_owned(),
        title: one.title,
        reason: one.reason.to_owned(),
        evidence: one.evidence,
        action: one.action.to_owned(),
        source: one.source.to_owned(),
    });
    Ok(said.collect())
}

/// What was found after `from` and up to `to`.
fn since<T: Clone>(dated: &[Dated<T>], from: UtcMs, to: UtcMs) -> Vec<T> {
    let first = dated.partition_point(|dated| dated.to <= from);
    let after = dated.partition_point(|dated| dated.to <= to);
    items(&dated[first..after.max(first)])
}

/// A connection that was told of lately.
fn connection(reader: &Reader, bank: &Bank, now: UtcMs) -> Result<Option<String>> {
    let events = reader.events(Some(&bank.name), UtcMs(now.0 - CONNECTION_MS), UtcMs(now.0 + 1), MOST_EVENTS)?;
    let told = events.into_iter().find(|stored| {
        stored.event.kind == "resistance-rise" && stored.event.bank.as_deref() == Some(bank.name.as_str())
    });
    Ok(told.map(|stored| stored.event.text))
}
