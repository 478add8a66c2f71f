//! In one go, in small steps, cut short, and all of it again.

use super::*;
use crate::daemon::{Ended, Rereckoning, SAMPLES_PER_COMMIT, Wish, rereckon};
use crate::store::PassageEdit;

#[test]
fn many_small_looks_with_restarts_find_what_one_look_finds() {
    let whole = Boat::after(&four_days());
    whole.survey();
    let steps = Boat::new();
    for Leg { boot, kind, began, seconds } in four_days() {
        let mut from = seconds.start;
        // Each step is a start of its own, of a length that is no whole number of minutes.
        while from < seconds.end {
            let to = (from + 5 * HOUR + 70).min(seconds.end);
            steps.live(&Leg { boot, kind, began, seconds: from..to });
            assert!(steps.survey().complete);
            from = to;
        }
    }
    // The charge is reckoned anew at each start here, so only what does not rest on it is the same.
    let ends =
        |boat: &Boat| boat.rows("SELECT boot, mono_ms, end_boot, end_mono_ms FROM passage ORDER BY boot, mono_ms");
    assert_eq!(ends(&steps), ends(&whole));
    // All at once on the same samples: the very same rows and state.
    let in_steps = steps.record();
    steps.open().forget_survey("drive").expect("room");
    let done = steps.survey();
    assert!(done.complete && done.events.is_empty(), "{done:?}");
    assert_eq!(steps.record(), in_steps);
}

#[test]
fn a_look_that_is_cut_short_goes_on_where_it_was() {
    let legs = [leg("first", 0, 0..16 * DAY)];
    let whole = Boat::after(&legs);
    whole.survey();
    let cut = Boat::after(&legs);
    let mut writer = cut.open();
    let mut looks = 0;
    loop {
        looks += 1;
        let stop = CancellationToken::new();
        let told = stop.clone();
        let done = survey(&cut.path(), &cut.work(), &mut writer, &stop, &mut |_| told.cancel()).expect("works");
        if done.complete {
            break;
        }
        assert!(looks < 10);
    }
    writer.close().expect("room");
    assert!(looks > 2, "it was cut: {looks}");
    assert_eq!(cut.record(), whole.record());
}

#[test]
fn a_clock_that_is_corrected_moves_times_and_no_results() {
    let boat = Boat::after(&four_days());
    boat.survey();
    let (before, hours) = (boat.record(), boat.hours());
    let mut writer = boat.open();
    let boot = writer.begin_boot("second", BootKind::Live).expect("known");
    let utc = UtcMs(MAY + (2 * DAY - HOUR) * SECOND + 3 * 3_600_000);
    writer.clock_fix(boot, WallReading { mono: MonoMs(0), utc, trust: Trust::Hand }, "hand").expect("known");
    writer.close().expect("room");
    let done = boat.survey();
    assert!(done.complete && !done.anew && done.looked_ms == 0, "{done:?}");
    assert_eq!(boat.record(), before);
    let later = boat.hours();
    assert!((later[3].0 - hours[3].0).abs() < 1e-9 || (later[3].0 - hours[3].0 - 3.0).abs() < 1e-9, "{later:?}");
}

#[test]
fn what_was_marked_by_hand_outlives_another_look_and_another_reckoning() {
    let boat = Boat::after(&four_days());
    boat.survey();
    let found = boat.reader().passages("drive").expect("reads");
    let [first, second, third, fourth] = &found[..] else { panic!("{found:?}") };
    let name = Some("Round the island".to_owned());
    boat.edit(&PassageEdit::Change { id: first.id, name, note: None, begin: None, end: None }).expect("done");
    boat.edit(&PassageEdit::Merge { ids: vec![third.id, second.id] }).expect("done");
    boat.edit(&PassageEdit::Remove { id: fourth.id }).expect("done");
    boat.survey();
    let ends = "SELECT boot, mono_ms, end_boot, end_mono_ms, origin, removed, name, note FROM passage ORDER BY id";
    let (marked, shown) = (boat.rows(ends), boat.hours());
    assert_eq!(shown.len(), 2, "{shown:?}");
    assert!((shown[1].1.expect("ended") - (2.0 * 24.0 + 16.0)).abs() < 0.02, "{shown:?}");
    for passage in boat.reader().passages("drive").expect("reads") {
        assert!(passage.summary.is_some(), "{passage:?}");
    }
    boat.open().forget_survey("drive").expect("room");
    boat.survey();
    assert_eq!(boat.rows(ends), marked);
    let bank = &boat.config.banks[0];
    let job = Rereckoning {
        bank,
        method: Method::Counter,
        main: "shunt",
        wish: Wish::default(),
        samples_per_commit: SAMPLES_PER_COMMIT,
    };
    let mut writer = boat.open();
    let ended = rereckon(&job, &mut writer, &boat.path(), &mut |_| std::ops::ControlFlow::Continue(()));
    assert!(matches!(ended, Ok(Ended::Done(_))), "{ended:?}");
    writer.close().expect("room");
    assert_eq!(boat.rows("SELECT * FROM survey"), Rows::new(), "all is to be looked at again");
    assert_eq!(boat.rows("SELECT * FROM passage WHERE origin = 'found'"), Rows::new());
    boat.survey();
    assert_eq!(boat.rows(ends), marked);
    assert_eq!(boat.rows("SELECT * FROM finding WHERE bank LIKE '% (%'"), Rows::new());
    assert!(boat.reader().passages("drive").expect("reads").iter().all(|passage| passage.summary.is_some()));
}

#[test]
fn another_description_of_the_bank_is_looked_at_anew() {
    let mut boat = Boat::after(&four_days());
    boat.survey();
    boat.config.branches.clear();
    assert!(boat.survey().anew);
    assert!(!boat.survey().anew);
}
