//! The first weeks of the first season, every ten seconds. The whole decade takes a release build:
//! `cargo run --release --example decade -- --step 10 --check`.

use sim::life::{Life, Rhythm};
use taffrail::store::{Options, Writer};

use super::found::{read, survey};
use super::produce::{configuration, produce};
use super::score;
use super::truth::Truth;
use crate::scenario::say;

const RHYTHM: Rhythm = Rhythm { main_s: 10, branches_s: 10 };
const SEED: u64 = 1;
/// From the launch on.
const DAYS: std::ops::Range<i64> = 20..44;

#[test]
fn passages_of_a_spring_are_found_with_both_ends_in_place() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let store = folder.path().join("spring.sqlite");
    let config = configuration().expect("no mistakes");
    produce(&store, &config, SEED, RHYTHM, DAYS).expect("stored");
    let mut writer = Writer::open(&store, Options::default()).expect("a store");
    let surveyed = survey(&store, &config, &mut writer).expect("surveyed");
    writer.close().expect("closed");
    assert!(surveyed.complete && surveyed.notes.is_empty(), "{surveyed:?}");
    let ended = |end_s: i64| end_s < DAYS.end * 86_400;
    let mut known = Truth::of(&Life::new(SEED, RHYTHM)).passages;
    known.retain(|passage| ended(passage.end_s));
    let found = read(&store).expect("a store").passages;
    let score = score::passages(&known, &found);
    say(&format!("{score:?} of {} found", found.len()));
    assert!(known.len() >= 5 && score.found >= 0.95 && score.wrong <= 0.02, "{score:?}: {known:?} {found:?}");
}
