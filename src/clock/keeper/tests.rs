use super::*;

const HOUR: i64 = 3_600_000;
/// 2027-01-15T08:00:00Z.
const NOON: i64 = 1_800_000_000_000;

fn reading(mono: i64, utc: i64, trust: Trust) -> WallReading {
    WallReading { mono: MonoMs(mono), utc: UtcMs(utc), trust }
}

fn stated(mono: i64, utc: i64) -> HandTime {
    HandTime { mono: MonoMs(mono), utc: UtcMs(utc), even_so: false }
}

fn keeper() -> Keeper {
    Keeper::new(BootNo(1), Vec::new(), None, None)
}

fn utc(keeper: &Keeper, mono: i64) -> i64 {
    keeper.placed(MonoMs(mono)).utc.0
}

#[test]
fn a_time_set_by_hand_moves_the_whole_boot_and_a_clock_stepped_later_moves_nothing() {
    for trust in [Trust::Untrusted, Trust::Plausible] {
        let mut keeper = keeper();
        keeper.look(reading(0, 5000, trust));
        let set = keeper.set_by_hand(stated(HOUR, NOON + HOUR)).expect("possible");
        assert_eq!((set.moved_ms, set.trust_before, set.trust), (NOON - 5000, trust, Trust::Hand));
        assert_eq!((utc(&keeper, 0), utc(&keeper, 2 * HOUR)), (NOON, NOON + 2 * HOUR));
        let step = keeper.look(reading(2 * HOUR, NOON + 9000 * HOUR, trust)).expect("noted");
        assert_eq!((step.moved_ms, step.trust), (0, Trust::Hand));
        assert!(step.stepped_ms > 0, "the clock was set all the same");
        assert_eq!(utc(&keeper, 3 * HOUR), NOON + 3 * HOUR);
    }
}

#[test]
fn a_time_source_counts_for_more_than_a_hand_and_is_not_set_by_one() {
    let mut keeper = keeper();
    keeper.look(reading(0, 0, Trust::Untrusted));
    keeper.set_by_hand(stated(HOUR, NOON + HOUR + 90_000)).expect("possible");
    let source = keeper.look(reading(2 * HOUR, NOON + 2 * HOUR, Trust::Synchronised)).expect("noted");
    assert_eq!((source.moved_ms, source.trust_before, source.trust), (-90_000, Trust::Hand, Trust::Synchronised));
    assert_eq!(utc(&keeper, 0), NOON, "from the first moment on");
    assert_eq!(keeper.set_by_hand(stated(3 * HOUR, NOON)), Err(HandRefused::Synchronised));
    // Nor is it once the source has been lost: what it said still places the boot.
    keeper.look(reading(4 * HOUR, NOON + 4 * HOUR, Trust::Plausible)).expect("noted");
    assert_eq!(keeper.set_by_hand(stated(5 * HOUR, NOON)), Err(HandRefused::Synchronised));
    assert_eq!(utc(&keeper, 5 * HOUR), NOON + 5 * HOUR);
}

#[test]
fn a_time_is_refused_behind_the_record_of_earlier_boots_but_not_behind_that_of_this_one() {
    let recorded = Some(UtcMs(NOON));
    let known = vec![ClockFix { mono: MonoMs(0), utc: UtcMs(NOON + 8760 * HOUR), rank: Trust::Plausible.rank() }];
    let mut keeper = Keeper::new(BootNo(2), known, Some(UtcMs(NOON + 8761 * HOUR)), recorded);
    let behind = stated(HOUR, NOON - 1);
    assert_eq!(keeper.set_by_hand(behind), Err(HandRefused::BehindRecord { recorded: UtcMs(NOON) }));
    assert_eq!(utc(&keeper, HOUR), NOON + 8761 * HOUR, "nothing has changed");
    let right = keeper.set_by_hand(stated(HOUR, NOON + 2 * HOUR)).expect("a year less than the clock said");
    assert_eq!(right.moved_ms, -8759 * HOUR);
    let insisted = keeper.set_by_hand(HandTime { even_so: true, ..behind }).expect("insisted");
    assert_eq!((utc(&keeper, HOUR), insisted.trust), (NOON - 1, Trust::Hand));
}

#[test]
fn what_the_store_holds_of_this_boot_counts_after_a_restart_of_the_daemon() {
    let known = vec![
        ClockFix { mono: MonoMs(0), utc: UtcMs(0), rank: 0 },
        ClockFix { mono: MonoMs(HOUR), utc: UtcMs(NOON + HOUR), rank: Trust::Hand.rank() },
    ];
    let mut keeper = Keeper::new(BootNo(1), known, Some(UtcMs(NOON + HOUR)), None);
    let first = keeper.look(reading(2 * HOUR, 2 * HOUR, Trust::Plausible)).expect("the first of this run");
    assert_eq!((first.kind, first.moved_ms, first.trust), ("start", 0, Trust::Hand));
    assert_eq!(first.reading.trust, Trust::Untrusted, "it is behind what is stored");
    assert_eq!(utc(&keeper, 2 * HOUR), NOON + 2 * HOUR);
}
