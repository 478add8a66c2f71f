//! Capacity tests: past ones, the one that is running, and when the next one is due.

use jiff::ToSpan;
use jiff::tz::TimeZone;

use super::trial_views::{DueView, PreconditionView, TestView, TrialView};
use crate::battery::Bank;
use crate::health::Aboard;
use crate::health::{About, TestBody, Verdict, next_due, preconditions};
use crate::quantity::UtcMs;
use crate::review::standing::standing;
use crate::review::values::{BandView, rfc3339};
use crate::store::{Reader, Result, StoredTest, TestState};

/// The tests of a bank, the latest first; when the next one is due, and that in words.
pub(super) fn tests(reader: &Reader, bank: &Bank) -> Result<(Vec<TestView>, Option<UtcMs>, DueView)> {
    let stored = reader.tests(&bank.name)?;
    let (due, due_view) = due(bank, &stored);
    Ok((stored.iter().map(test_view).collect(), due, due_view))
}

/// How the capacity test of a bank stands.
///
/// # Errors
/// What the store reports.
pub fn trial(reader: &Reader, aboard: &Aboard<'_>) -> Result<TrialView> {
    let stored = reader.tests(&aboard.bank.name)?;
    let (running, past): (Vec<_>, Vec<_>) = stored.iter().partition(|test| test.state == TestState::Running);
    let latest = standing(reader, aboard)?;
    let conditions = latest.map_or_else(Vec::new, |latest| preconditions(aboard, &latest));
    let conditions = conditions.into_iter().map(|condition| PreconditionView {
        name: match condition.about {
            About::Full => "full",
            About::Rested => "rested",
            About::Temperature => "temperature",
        },
        met: condition.met,
        needed: condition.about != About::Temperature,
        text: condition.text,
    });
    Ok(TrialView {
        preconditions: conditions.collect(),
        running: running.first().map(|test| test_view(test)),
        past: past.into_iter().map(test_view).collect(),
        due: due(aboard.bank, &stored).1,
    })
}

/// A test whose body is of another version shows its state only.
fn body_of(stored: &StoredTest) -> Option<TestBody> {
    serde_json::from_str(&stored.body).ok()
}

fn test_view(stored: &StoredTest) -> TestView {
    let body = body_of(stored);
    let result = body.as_ref().and_then(|body| body.result.as_ref());
    let progress = body.as_ref().map(|body| &body.progress).filter(|progress| progress.began.is_some());
    TestView {
        id: stored.id,
        start: stored.utc.and_then(rfc3339),
        state: stored.state.word(),
        load_a: result.map(|result| result.load_a).or(progress.map(|progress| progress.load_a)),
        cut_off_v: body.as_ref().map(|body| body.asked.cut_off_v),
        voltage_v: body.as_ref().and_then(|body| body.progress.voltage_v),
        charge_ah: result.map(|result| result.charge_ah).or(progress.map(|progress| progress.charge_ah)),
        hours: result.map(|result| result.hours).or(progress.map(|progress| f64::from(progress.minutes) / 60.0)),
        temperature_c: result.map_or(progress.and_then(|progress| progress.temperature_c), |r| r.temperature_c),
        time_adjusted: result.and_then(|result| result.time_adjusted),
        rate_adjusted: result.and_then(|result| result.rate_adjusted),
        capacity: result.map(|result| BandView::from(result.capacity)),
        verdict: result.map(|result| verdict_word(result.verdict).to_owned()),
        text: body.as_ref().map_or_else(String::new, TestBody::text),
    }
}

const fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Sound => "sound",
        Verdict::Degraded => "degraded",
        Verdict::Replace => "replace",
    }
}

/// `stored` has the latest first. A bank that was never tested has no date: no rule names one.
fn due(bank: &Bank, stored: &[StoredTest]) -> (Option<UtcMs>, DueView) {
    let ended: Vec<(&StoredTest, f64)> = stored
        .iter()
        .rev()
        .filter(|test| test.state == TestState::Ended)
        .filter_map(|test| Some((test, body_of(test)?.result?.capacity.value)))
        .collect();
    let past: Vec<f64> = ended.iter().map(|(_, capacity)| *capacity).collect();
    let due = next_due(bank.chemistry, &past, None);
    let last = ended.last().and_then(|(test, _)| test.utc);
    let time = last.and_then(|last| {
        let last = jiff::Timestamp::from_millisecond(last.0).ok()?.to_zoned_datetime(TimeZone::UTC);
        let then = last.checked_add(i64::from(due.months).months()).ok()?;
        Some(UtcMs(then.timestamp().as_millisecond()))
    });
    (time, DueView { time: time.and_then(rfc3339), text: due.why.to_owned() })
}
