//! The task on a clock that a test sets, from a reading or a statement to the store and to what is shown.

use std::sync::Mutex;

use super::*;
use crate::clock::{TimeSource, WallReading};
use crate::quantity::{Moment, MonoMs, UtcMs};
use crate::store::{BootKind, Options, Reader, Writer};

const HOUR: i64 = 3_600_000;
/// 2027-01-15T08:00:00Z.
const NOON: i64 = 1_800_000_000_000;

/// Wall time as last set; shared with the test that sets it.
#[derive(Clone)]
struct Scripted(Arc<Mutex<WallReading>>);

impl Scripted {
    fn set(&self, mono: i64, utc: i64, trust: Trust) {
        *self.0.lock().expect("no panic") = WallReading { mono: MonoMs(mono), utc: UtcMs(utc), trust };
    }
}

impl TimeSource for Scripted {
    fn mono(&self) -> MonoMs {
        self.wall().mono
    }

    fn wall(&self) -> WallReading {
        *self.0.lock().expect("no panic")
    }

    fn boot_id(&self) -> String {
        "scripted".to_owned()
    }
}

fn noted(stepped_ms: i64, moved_ms: i64, trust_before: Trust, trust: Trust) -> Noted {
    let reading = WallReading { mono: MonoMs(0), utc: UtcMs(NOON), trust };
    Noted { reading, kind: "set", stepped_ms, moved_ms, trust_before, trust }
}

#[test]
fn what_is_looked_at_and_what_is_stated_is_stored_and_known_everywhere_at_once() {
    let dir = tempfile::tempdir().expect("a scratch directory");
    let path = dir.path().join("marigold.sqlite");
    let mut writer = Writer::open(&path, Options::default()).expect("opens");
    let boot = writer.begin_boot("scripted", BootKind::Live).expect("noted");
    let source =
        Scripted(Arc::new(Mutex::new(WallReading { mono: MonoMs(1000), utc: UtcMs(5000), trust: Trust::Untrusted })));
    let clock = Clock::new(source.clone());
    let (store, thread) = crate::store::spawn(writer, clock.clone(), crate::store::Pace::LIVE).expect("a thread");
    let (state, mut task) = start(&clock, boot, Keeper::new(boot, Vec::new(), None, None), store.clone());
    assert_eq!((state.utc(MonoMs(0)), state.trust()), (UtcMs(4000), Trust::Untrusted));

    let stated = HandTime { mono: MonoMs(HOUR), utc: UtcMs(NOON + HOUR), even_so: false };
    let set = task.keeper.set_by_hand(stated).expect("possible");
    task.keep(&set);
    assert_eq!((state.utc(MonoMs(0)), state.trust()), (UtcMs(NOON), Trust::Hand));

    source.set(2 * HOUR, NOON + 2 * HOUR + 90_000, Trust::Synchronised);
    task.look().expect("noted");
    assert_eq!((state.utc(MonoMs(0)), state.trust()), (UtcMs(NOON + 90_000), Trust::Synchronised));
    source.set(2 * HOUR + 1000, NOON + 2 * HOUR + 91_000, Trust::Synchronised);
    assert_eq!(task.look(), None, "steady progress is not noted");

    store.close().expect("it runs");
    thread.join().expect("no panic").expect("closes");
    let reader = Reader::open(&path).expect("opens");
    let ranks: Vec<u8> = reader.clock_fixes(boot).expect("reads").iter().map(|fix| fix.rank).collect();
    assert_eq!(ranks, [Trust::Untrusted, Trust::Hand, Trust::Synchronised].map(Trust::rank));
    let timeline = reader.timeline().expect("reads");
    for mono in [0, HOUR, 3 * HOUR].map(MonoMs) {
        let stored = timeline.utc(Moment { boot, mono }).map(|placed| placed.utc);
        assert_eq!(stored, Some(state.utc(mono)), "the store and the daemon say the same");
    }
}

#[test]
fn people_are_told_what_has_moved_and_which_way() {
    let late = set_words(&noted(57 * 8766 * HOUR, 57 * 8766 * HOUR, Trust::Untrusted, Trust::Synchronised));
    assert!(late.contains("times since the computer started moved forward by 57.0 years"), "{late}");
    let back = set_words(&noted(-3 * HOUR, -3 * HOUR, Trust::Plausible, Trust::Plausible));
    assert!(back.contains("times from now on moved back by 3.0 h"), "{back}");
    let ignored = set_words(&noted(3 * HOUR, 0, Trust::Hand, Trust::Hand));
    assert!(ignored.contains("set forward by 3.0 h; times stay as they were set by hand"), "{ignored}");
    let hand = moved_words(&noted(0, -90_000, Trust::Hand, Trust::Hand));
    assert_eq!(hand, "times since the computer started moved back by 90 s");
    assert_eq!(
        moved_words(&noted(0, 20, Trust::Untrusted, Trust::Hand)),
        "times since the computer started stay as they are"
    );
}
