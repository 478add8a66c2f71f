//! Capacity tests, from being asked for to their end.

use super::*;
use crate::daemon::{start_test, stop_test};
use crate::health::TestBody;
use crate::http::TestWish;
use crate::store::{StoredTest, TestState};

/// Three in the morning of the second day: the bank was full until one and has rested since.
const NIGHT: i64 = DAY + 3 * HOUR;

impl Boat {
    fn start(&self, cut_off_v: f64) -> std::result::Result<i64, String> {
        let wish = TestWish { load_a: 12.0, cut_off_v: Some(cut_off_v), anyway: false };
        let mut writer = self.open();
        let done = start_test(&self.path(), &self.work(), &wish, &mut writer);
        writer.close().expect("room");
        done.map(|done| done.id).map_err(|error| error.to_string())
    }

    fn stop(&self) -> std::result::Result<String, String> {
        let mut writer = self.open();
        let done = stop_test(&self.path(), &self.work(), &mut writer);
        writer.close().expect("room");
        done.map(|done| done.text).map_err(|error| error.to_string())
    }

    fn test(&self) -> (StoredTest, TestBody) {
        let test = self.reader().tests("drive").expect("reads").remove(0);
        let body = serde_json::from_str(&test.body).expect("own text");
        (test, body)
    }

    fn test_rows(&self) -> Rows {
        self.rows("SELECT * FROM capacity_test ORDER BY id")
    }
}

#[test]
fn a_test_is_followed_to_its_cut_off_and_found_again_by_another_look() {
    let boat = Boat::after(&[leg("first", 0, 0..NIGHT)]);
    boat.survey();
    boat.start(49.2).expect("full and rested");
    assert!(boat.start(49.2).expect_err("one at a time").contains("is running"));
    assert!(boat.survey().testing);
    // Before the load comes and while it runs, with a restart between.
    boat.live(&leg("first", 0, NIGHT..DAY + 8 * HOUR));
    assert!(boat.survey().testing);
    boat.live(&leg("first", 0, DAY + 8 * HOUR..DAY + 10 * HOUR));
    let done = boat.survey();
    assert!(!done.testing && done.events.iter().any(|event| event.kind == "capacity-test"), "{done:?}");
    let (test, body) = boat.test();
    assert_eq!(test.state, TestState::Ended, "{body:?}");
    let result = body.result.expect("at the cut-off");
    assert!((result.load_a - 12.48).abs() < 0.3, "{result:?}");
    let of_test = "SELECT body FROM finding WHERE kind = 'capacity' AND body ->> '$.watched' = 'test'";
    let (found, rows) = (boat.rows(of_test), boat.test_rows());
    assert_eq!(found.len(), 1);
    assert_eq!(boat.rows("SELECT 1 FROM capacity_tests WHERE time_adjusted > 0").len(), 1, "and people see it");
    boat.open().forget_survey("drive").expect("room");
    let again = boat.survey();
    assert!(!again.testing && again.events.iter().all(|event| event.kind != "capacity-test"), "{again:?}");
    assert_eq!(boat.rows(of_test), found);
    assert_eq!(boat.test_rows(), rows);
}

#[test]
fn a_cut_off_that_is_met_at_once_gives_no_result() {
    let boat = Boat::after(&[leg("first", 0, 0..NIGHT)]);
    boat.survey();
    boat.start(50.5).expect("full and rested");
    boat.live(&leg("first", 0, NIGHT..DAY + 9 * HOUR));
    assert!(!boat.survey().testing);
    let (test, body) = boat.test();
    assert_eq!((test.state, &body.result), (TestState::Broken, &None));
    assert!(body.words.iter().all(|words| !words.contains("NaN")), "{body:?}");
    assert_eq!(boat.rows("SELECT 1 FROM finding WHERE body ->> '$.watched' = 'test'"), Rows::new());
}

#[test]
fn a_load_that_is_switched_off_early_breaks_a_test() {
    let boat = Boat::after(&[leg("first", 0, 0..NIGHT)]);
    boat.survey();
    boat.start(47.0).expect("full and rested");
    boat.live(&leg("first", 0, NIGHT..DAY + 12 * HOUR + 600));
    assert!(!boat.survey().testing);
    let (test, body) = boat.test();
    assert_eq!(test.state, TestState::Broken);
    assert!(body.words.last().is_some_and(|words| words.contains("switched off before the cut-off")), "{body:?}");
}

#[test]
fn a_test_can_be_stopped_and_is_not_begun_on_a_bank_that_is_not_ready() {
    let boat = Boat::new();
    drop(boat.open());
    assert!(boat.start(47.0).expect_err("no samples").contains("nothing has been heard"));
    boat.live(&leg("first", 0, 0..DAY / 2));
    boat.survey();
    assert!(boat.start(47.0).expect_err("under load").contains("Rested for"));
    assert!(boat.stop().expect_err("none").contains("no capacity test is running"));
    boat.live(&leg("first", 0, DAY / 2..NIGHT));
    boat.survey();
    boat.start(47.0).expect("full and rested");
    assert!(boat.stop().expect("running").contains("Stopped by hand"));
    assert_eq!(boat.test().0.state, TestState::Stopped);
    let rows = boat.test_rows();
    boat.live(&leg("first", 0, NIGHT..NIGHT + 2 * HOUR));
    assert!(!boat.survey().testing);
    assert_eq!(boat.test_rows(), rows);
}
