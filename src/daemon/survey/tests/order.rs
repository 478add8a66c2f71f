//! Boots and traces in the order in which the bank lived them.

use super::*;
use crate::daemon::survey::course::Course;
use crate::quantity::{ClockFix, Timeline};
use crate::store::BootSpan;

const fn trace(boot: &'static str, began: i64, seconds: Range<i64>) -> Leg {
    Leg { boot, kind: BootKind::Import, began, seconds }
}

#[test]
fn what_was_brought_in_late_is_looked_at_in_its_place() {
    let straight = Boat::after(&[trace("t", 0, 0..DAY), leg("live", DAY, DAY..3 * DAY)]);
    straight.survey();
    let late = Boat::after(&[leg("live", DAY, DAY..3 * DAY)]);
    late.survey();
    assert_eq!(late.hours().len(), 2);
    late.live(&trace("t", 0, 0..DAY));
    let done = late.survey();
    assert!(done.complete && done.anew && done.notes.is_empty(), "{done:?}");
    assert_eq!(late.hours(), straight.hours());
    assert_eq!(late.hours().len(), 3);
    assert!(!late.survey().anew, "and then it is known");
}

#[test]
fn a_trace_in_a_pause_of_a_boot_that_runs_on_stands_there() {
    let boat = Boat::after(&[leg("live", 0, 0..DAY)]);
    boat.survey();
    boat.live(&trace("pause", DAY, DAY + 60..2 * DAY));
    assert!(!boat.survey().anew, "it comes after all that was looked at");
    boat.live(&leg("live", 0, 2 * DAY + 60..3 * DAY));
    let done = boat.survey();
    assert!(done.complete && !done.anew && done.notes.is_empty(), "{done:?}");
    let hours = boat.hours();
    assert_eq!(hours.len(), 3, "{hours:?}");
    let begins: Vec<f64> = hours.iter().map(|(begin, _)| begin.round()).collect();
    assert_eq!(begins, [8.0, 32.0, 56.0]);
}

#[test]
fn a_trace_of_a_time_that_has_samples_already_is_left_out_and_said() {
    let boat = Boat::after(&[leg("live", 0, 0..2 * DAY), trace("double", 0, 6 * HOUR..20 * HOUR)]);
    let done = boat.survey();
    assert!(done.complete && done.notes.len() == 1 && done.notes[0].contains("samples already"), "{done:?}");
    assert_eq!(boat.hours().len(), 2);
}

fn span(boot: u32, imported: bool, first: i64, last: i64) -> BootSpan {
    BootSpan { boot: BootNo(boot), first: MonoMs(first), last: MonoMs(last), imported }
}

/// Boots by their numbers, each with the time at which it began.
fn course(spans: &[BootSpan], began: &[i64]) -> Vec<u32> {
    let fix = |utc: &i64| ClockFix { mono: MonoMs(0), utc: UtcMs(*utc), rank: 3 };
    let timeline = Timeline::new((1..).map(BootNo).zip(began.iter().map(fix)));
    let course = Course::new(spans, &timeline, &mut |_, _, _| Ok(false)).expect("no store");
    course.pieces.iter().map(|piece| piece.boot.0).collect()
}

#[test]
fn boots_follow_their_numbers_and_traces_their_time() {
    let hour = 3_600_000;
    let live = [span(1, false, 0, hour), span(2, false, 0, hour)];
    // The second boot believed that it ran before the first: the order is that of the numbers.
    assert_eq!(course(&live, &[10 * hour, 0]), [1, 2]);
    let with = |trace| course(&[live[0], live[1], span(3, true, 0, hour)], &[10 * hour, 20 * hour, trace]);
    assert_eq!(with(0), [3, 1, 2]);
    assert_eq!(with(15 * hour), [1, 3, 2]);
    assert_eq!(with(30 * hour), [1, 2, 3]);
    let pause = [span(1, false, 0, 9 * hour), span(2, true, 0, hour)];
    assert_eq!(course(&pause, &[0, 5 * hour]), [1, 2, 1]);
}
