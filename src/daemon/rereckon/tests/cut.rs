//! What stays, and what is replaced as a whole.

use super::*;

#[test]
fn results_before_a_time_stay_bit_for_bit() {
    let mut boat = Boat::new();
    boat.sail();
    let before = boat.results(HOUSE);
    boat.config.banks[HOUSE].rated_capacity_ah = 90.0;
    let from = UtcMs(MAY + 620 * MINUTE);
    boat.again(boat.bank(HOUSE), Wish { from: Some(from), start: None });
    let after = boat.results(HOUSE);
    let kept = |points: &[StoredSample]| points.iter().filter(|p| p.utc < from).cloned().collect::<Vec<_>>();
    assert_eq!(kept(&after.track), kept(&before.track));
    assert_eq!(kept(&after.reconciled), kept(&before.reconciled));
    let early = |results: &Results| -> Vec<_> {
        results.fixes.iter().filter(|stored| stored.utc < Some(from)).cloned().collect()
    };
    assert!(!early(&before).is_empty());
    assert_eq!(early(&after), early(&before));
    // It begins full at the full fix before, and runs down faster from there.
    let at = |results: &Results, minute| {
        let wanted = Some(UtcMs(MAY + minute * MINUTE));
        soc(results.track.iter().find(|point| Some(point.utc) == wanted).expect("a point"))
    };
    let full = minute_of(early(&before)[0].utc);
    let drawn_ah = 9.0 * (690 - CYCLE) as f64 / 60.0;
    assert!(full <= CYCLE && (at(&after, 690) - (1.0 - drawn_ah / 90.0)).abs() < 0.04, "{}", at(&after, 690));
    assert!(at(&after, 690) < at(&before, 690) - 0.03);
    // Said otherwise, it begins as said, at that time.
    boat.again(boat.bank(HOUSE), Wish { from: Some(from), start: Some(Start::At(0.40)) });
    let said = boat.results(HOUSE);
    assert_eq!(kept(&said.track), kept(&before.track));
    assert!((at(&said, 620) - 0.40).abs() < 0.02, "{}", at(&said, 620));
    let late = Wish { from: Some(UtcMs(MAY + 5000 * MINUTE)), start: None };
    assert_eq!(boat.wish(boat.bank(HOUSE), late, &mut |_| ControlFlow::Continue(())), Ended::Nothing);
    assert_eq!(boat.results(HOUSE), said);
}

const BOOTS: [&str; 8] = ["a", "b", "c", "d", "e", "f", "g", "h"];

/// Whatever instant it ends at, the results are all old or all new, and the next time completes them.
#[test]
fn cut_short_anywhere_it_leaves_the_old_results_or_the_new() {
    // The counter, which is quicker.
    let mut boat = Boat::with("counter");
    for (boot, began) in BOOTS.into_iter().zip((0..).step_by(160)) {
        let mut daemon = boat.start(boot, began, began);
        boat.live(&mut daemon, HOUSE, began, began..began + 155);
    }
    let before = boat.results(HOUSE).unnumbered();
    let mut new = None;
    boat.config.banks[HOUSE].rated_capacity_ah = 90.0;
    let wish = Wish { from: Some(UtcMs(MAY + 300 * MINUTE)), start: None };
    let mut seen = [0, 0];
    for most in 0.. {
        let copy = Boat { dir: tempfile::tempdir().expect("a scratch directory"), config: boat.config.clone() };
        rusqlite::Connection::open(boat.path())
            .and_then(|c| c.execute("VACUUM INTO ?1", [copy.path().to_str()]))
            .expect("a copy");
        let mut told = 0;
        let ended = copy.wish(copy.bank(HOUSE), wish, &mut |_| {
            told += 1;
            if told > most { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        let cut = copy.results(HOUSE).unnumbered();
        let complete = |copy: &Boat| {
            copy.again(copy.bank(HOUSE), wish);
            assert_eq!(copy.left_over(), 0, "cut after {most}");
            copy.results(HOUSE).unnumbered()
        };
        let new = new.get_or_insert_with(|| complete(&copy));
        assert!(cut == before || cut == *new, "cut after {most}");
        seen[usize::from(cut == *new)] += 1;
        if most % 5 == 4 {
            assert!(complete(&copy) == *new, "cut after {most}");
        }
        if matches!(ended, Ended::Done(_)) {
            break;
        }
        assert_eq!(ended, Ended::Stopped);
    }
    assert!(seen[0] > 5 && seen[1] > 5, "stopped before and after the change: {seen:?}");
}

#[test]
fn another_bank_keeps_its_results() {
    let boat = Boat::new();
    let mut daemon = boat.start("the first", 0, 0);
    boat.live(&mut daemon, HOUSE, 0, 0..600);
    boat.live(&mut daemon, DRIVE, 0, 0..600);
    drop(daemon);
    let (house, drive) = (boat.results(HOUSE), boat.results(DRIVE));
    boat.again(&Bank { rated_capacity_ah: 90.0, ..boat.bank(HOUSE).clone() }, Wish::default());
    assert_eq!(boat.results(DRIVE), drive);
    assert_ne!(boat.results(HOUSE).track, house.track);
    boat.again(boat.bank(DRIVE), Wish::default());
    assert_eq!(boat.results(DRIVE).unnumbered(), drive.unnumbered());
}
