use super::*;
use proptest::prelude::*;

fn fix(boot: u32, mono: i64, utc: i64, rank: u8) -> (BootNo, ClockFix) {
    (BootNo(boot), ClockFix { mono: MonoMs(mono), utc: UtcMs(utc), rank })
}

fn at(boot: u32, mono: i64) -> Moment {
    Moment { boot: BootNo(boot), mono: MonoMs(mono) }
}

const HOUR: i64 = 3_600_000;
const NOON: i64 = 1_800_000_000_000;

#[test]
fn a_late_fix_places_the_whole_boot() {
    let wrong = Timeline::new([fix(1, 0, 0, 0)]);
    assert_eq!(wrong.utc(at(1, 5000)), Some(Placed { utc: UtcMs(5000), rank: 0 }));
    let right = Timeline::new([fix(1, 0, 0, 0), fix(1, HOUR, NOON, 3)]);
    assert_eq!(right.utc(at(1, 5000)), Some(Placed { utc: UtcMs(NOON - HOUR + 5000), rank: 3 }));
}

#[test]
fn a_boot_without_a_fix_cannot_be_placed() {
    let timeline = Timeline::new([fix(1, 0, NOON, 1), fix(3, 0, NOON + HOUR, 1)]);
    assert_eq!(timeline.utc(at(2, 0)), None);
    assert_eq!(timeline.utc(at(0, 0)), None);
    assert!(timeline.utc(at(3, -1)).is_some());
}

#[test]
fn a_step_moves_what_comes_after_it_and_nothing_before() {
    let timeline = Timeline::new([fix(1, 0, NOON, 3), fix(1, HOUR, NOON, 3), fix(1, 2 * HOUR, NOON + 5 * HOUR, 3)]);
    assert_eq!(timeline.utc(at(1, HOUR - 1)).map(|p| p.utc), Some(UtcMs(NOON + HOUR - 1)));
    assert_eq!(timeline.utc(at(1, HOUR)).map(|p| p.utc), Some(UtcMs(NOON)));
    let all = timeline.ranges(UtcMs(NOON), UtcMs(NOON + 6 * HOUR));
    let covered: i64 = all.iter().map(|range| range.to - range.from).sum();
    assert_eq!(covered, 3 * HOUR, "one hour, the same hour again, and the hour after the step");
    assert!(
        timeline.ranges(UtcMs(NOON + 2 * HOUR), UtcMs(NOON + 4 * HOUR)).is_empty(),
        "the hours stepped over are empty"
    );
}

#[test]
fn a_source_that_was_a_week_off_leaves_what_came_before_its_correction_where_it_was() {
    const WEEK: i64 = 168 * HOUR;
    let timeline = Timeline::new([fix(1, 0, NOON - WEEK, 3), fix(1, HOUR, NOON + HOUR, 3)]);
    assert_eq!(timeline.utc(at(1, HOUR - 1)).map(|p| p.utc), Some(UtcMs(NOON - WEEK + HOUR - 1)));
    assert_eq!(timeline.utc(at(1, HOUR)).map(|p| p.utc), Some(UtcMs(NOON + HOUR)));
}

#[test]
fn of_several_settings_by_hand_the_last_places_the_whole_boot_until_a_source_is_there() {
    let wrong_year = fix(1, HOUR, NOON + 8760 * HOUR, BY_HAND);
    let right = fix(1, HOUR + 60_000, NOON + HOUR + 60_000, BY_HAND);
    let timeline = Timeline::new([fix(1, 0, 0, 1), wrong_year, right]);
    assert_eq!(timeline.utc(at(1, 0)), Some(Placed { utc: UtcMs(NOON), rank: BY_HAND }));
    assert_eq!(timeline.ranges(UtcMs(i64::MIN), UtcMs(i64::MAX)).len(), 1);
    let source = Timeline::new([wrong_year, right, fix(1, 2 * HOUR, NOON + 2 * HOUR + 5000, 3)]);
    assert_eq!(source.utc(at(1, 0)), Some(Placed { utc: UtcMs(NOON + 5000), rank: 3 }));
}

#[test]
fn boots_that_overlap_in_utc_both_stay_readable() {
    let timeline = Timeline::new([fix(2, 0, NOON, 3), fix(1, 0, NOON + 1000, 1)]);
    let ranges = timeline.ranges(UtcMs(NOON + 2000), UtcMs(NOON + 3000));
    assert_eq!(ranges.len(), 2);
    assert_eq!((ranges[0].boot, ranges[0].from), (BootNo(1), MonoMs(1000)));
    assert_eq!((ranges[1].boot, ranges[1].from), (BootNo(2), MonoMs(2000)));
    assert_eq!(ranges[1].utc(MonoMs(2500)), UtcMs(NOON + 2500));
}

#[test]
fn extreme_clocks_do_not_overflow() {
    let timeline = Timeline::new([fix(1, i64::MIN, i64::MAX, 1), fix(1, i64::MAX, i64::MIN, 1)]);
    assert!(timeline.utc(at(1, i64::MIN)).is_some());
    assert!(timeline.utc(at(1, i64::MAX)).is_some());
    let all = timeline.ranges(UtcMs(i64::MIN), UtcMs(i64::MAX));
    assert!(all.iter().all(|range| range.from < range.to));
}

proptest! {
    /// Whatever the clock did, a range of UTC holds a moment exactly when the moment's own UTC lies in it.
    #[test]
    fn ranges_neither_lose_nor_double_a_moment(
        fixes in prop::collection::vec((1_u32..4, 0_i64..100, -50_i64..150, 0_u8..4), 1..12),
        boot in 1_u32..4, mono in -20_i64..120, from in -60_i64..200, length in 1_i64..100,
    ) {
        let timeline = Timeline::new(fixes.iter().map(|&(b, m, u, r)| fix(b, m, u, r)));
        let (from, to) = (UtcMs(from), UtcMs(from + length));
        let holding = timeline
            .ranges(from, to)
            .iter()
            .filter(|r| r.boot == BootNo(boot) && r.from <= MonoMs(mono) && MonoMs(mono) < r.to)
            .count();
        let expected = timeline.utc(at(boot, mono)).is_some_and(|p| from <= p.utc && p.utc < to);
        prop_assert_eq!(holding, usize::from(expected));
    }
}
