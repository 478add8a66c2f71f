//! Minute summaries as packed, against the samples.

use crate::store::block::{MINUTE_COLUMNS, POWER, slot};
use crate::store::codec::{self, Columns};
use crate::store::summary::{MINUTE_MS, Summary, start_of};

/// The finest step to which a mean is rounded, 10^-6, and the step of derived power.
const FINEST: f64 = 1e-6;
const POWER_STEP: f64 = 0.1;

/// Channel, its samples, and its minutes made of them.
pub(super) type Fine<'a> = (i64, &'a [f64], Vec<(i64, Summary)>);

/// What is wrong with the minutes of a chunk; minutes that do not decode are told elsewhere.
pub(super) fn fault(
    time_ms: &[i64],
    fine: &[Fine<'_>],
    stored: Option<&Result<Columns, String>>,
) -> Option<&'static str> {
    let mut starts: Vec<i64> = time_ms.iter().map(|&time| start_of(time, MINUTE_MS)).collect();
    starts.dedup();
    let Some(stored) = stored else {
        // Where they would hardly be fewer than the samples there are none.
        return (starts.len() * 2 <= time_ms.len()).then_some("there is none, and its chunk should have one");
    };
    let Ok(stored) = stored else { return None };
    if stored.time_ms != starts {
        return Some("it is of other minutes than the samples");
    }
    let agree = fine.iter().all(|(channel, values, minutes)| agrees(*channel, values, minutes, stored));
    (!agree).then_some("it does not say what the samples say")
}

/// As [`fault`], for a chunk of which samples were thinned out after its minutes were made: these hold at least what the
/// samples that are left say.
pub(super) fn fault_of_thinned(
    _: &[i64],
    fine: &[Fine<'_>],
    stored: Option<&Result<Columns, String>>,
) -> Option<&'static str> {
    let Some(Ok(stored)) = stored else { return None };
    let holds = |(channel, _, minutes): &Fine<'_>| {
        let Some([count, min, max, ..]) = stored.channels.get(slot(*channel) * MINUTE_COLUMNS..) else { return false };
        let edge = if *channel == POWER { POWER_STEP } else { 0.0 };
        minutes.iter().all(|(start, made)| {
            stored.time_ms.binary_search(start).is_ok_and(|row| {
                count[row] >= made.count as f64 && min[row] <= made.min + edge && max[row] >= made.max - edge
            })
        })
    };
    (!fine.iter().all(holds)).then_some("it does not hold what the samples say")
}

fn agrees(channel: i64, values: &[f64], minutes: &[(i64, Summary)], stored: &Columns) -> bool {
    let first = slot(channel) * MINUTE_COLUMNS;
    let Some([count, min, max, mean, ..]) = stored.channels.get(first..) else { return false };
    let derived = channel == POWER;
    // A mean may have been rounded to one step finer than the samples; either side of a half is right.
    let step = match (derived, codec::decimals(values)) {
        (true, _) => POWER_STEP,
        (false, Some(decimals)) => 0.1_f64.powi(i32::from(decimals) + 1).max(FINEST),
        (false, None) => 0.0,
    };
    let edge = if derived { POWER_STEP } else { 0.0 };
    let mut rest = minutes.iter().peekable();
    stored.time_ms.iter().enumerate().all(|(row, start)| match rest.next_if(|(at, _)| at == start) {
        None => count[row].is_nan(),
        Some((_, made)) => {
            near(count[row], made.count as f64, 0.0)
                && near(min[row], made.min, edge)
                && near(max[row], made.max, edge)
                && near(mean[row], made.mean(), step)
        }
    })
}

/// True within a step, and within what rounding of a sum costs where there is none.
fn near(stored: f64, made: f64, step: f64) -> bool {
    (stored - made).abs() <= step + made.abs() * if step > 0.0 { 1e-9 } else { 0.0 }
        || stored.to_bits() == made.to_bits()
}
