//! Clocks that are late, wrong, set, drifting or smeared: every sample in exactly one place, in order, and sums right.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

use taffrail::clock::{Clock, HandTime, Keeper, TimeSource, Trust, WallReading};
use taffrail::store::HistoryQuery;

use super::*;

const SECOND: i64 = 1000;
const DAY: i64 = 24 * HOUR;
const YEAR: i64 = 365 * DAY;
const LOOK_EVERY: i64 = 10 * SECOND;

/// What a wall clock shows at a monotonic time, and how far it is to be believed.
type Shows = Box<dyn Fn(i64) -> (i64, Trust) + Send + Sync>;

/// A computer whose monotonic time the test moves, and whose wall clock follows a script.
#[derive(Clone)]
struct Scripted(Arc<(Mutex<i64>, Shows)>);

impl TimeSource for Scripted {
    fn mono(&self) -> MonoMs {
        MonoMs(*self.0.0.lock().expect("no panic"))
    }

    fn wall(&self) -> WallReading {
        let (utc, trust) = (self.0.1)(self.mono().0);
        WallReading { mono: self.mono(), utc: UtcMs(utc), trust }
    }

    fn boot_id(&self) -> String {
        "scripted".to_owned()
    }
}

/// One boot: samples from 0 to `until` but for `asleep`, each so many ms.
struct Boot {
    until: i64,
    every: i64,
    asleep: std::ops::Range<i64>,
    /// When somebody says what time it is.
    stated: Option<(i64, i64)>,
    shows: Shows,
}

impl Boot {
    fn new(until: i64, every: i64, shows: impl Fn(i64) -> (i64, Trust) + Send + Sync + 'static) -> Boot {
        Boot { until, every, asleep: 0..0, stated: None, shows: Box::new(shows) }
    }
}

/// What was stored, and what is known of it without the store.
struct Voyage {
    scratch: Scratch,
    series: SeriesId,
    gap: i64,
    /// Moment and current of every sample.
    taken: Vec<(BootNo, i64, f64)>,
    /// Clock fixes that were noted, by boot.
    noted: Vec<usize>,
}

/// A current that never repeats, so that each sample is known again by it: a wave with a ramp on it.
fn current(number: usize) -> f64 {
    let wave = (number as f64 / 200.0).sin() * 10.0;
    (wave * 100.0).round() / 100.0 + number as f64 * 1e-6
}

/// Lives through the boots with one writer, as the daemon does: the clock is looked at every 10 s, the store commits
/// every 5 minutes, and checks everything that must hold whatever the clocks did.
fn sail(boots: Vec<Boot>) -> Voyage {
    let scratch = scratch();
    let mut writer = open(&scratch.path);
    let gap = 10 * boots[0].every;
    let series = writer.series(&shunt(gap)).expect("fits");
    let (mut taken, mut noted) = (Vec::new(), Vec::new());
    for (index, Boot { until, every, asleep, stated, shows }) in boots.into_iter().enumerate() {
        let source = Scripted(Arc::new((Mutex::new(0), shows)));
        let clock = Clock::new(source.clone());
        let boot = writer.begin_boot(&format!("boot {index}"), BootKind::Live).expect("noted");
        let mut keeper = Keeper::new(boot, Vec::new(), writer.last_utc().expect("reads"), None);
        let mut fixes = 0;
        for mono in (0..until).step_by(1000).filter(|mono| !asleep.contains(mono)) {
            *source.0.0.lock().expect("no panic") = mono;
            let looked = (mono % LOOK_EVERY == 0).then(|| keeper.look(clock.wall())).flatten();
            let said = stated.filter(|(at, _)| *at == mono);
            let said = said.map(|(_, utc)| HandTime { mono: MonoMs(mono), utc: UtcMs(utc), even_so: false });
            let said = said.map(|said| keeper.set_by_hand(said).expect("a time that can be right"));
            for fix in looked.into_iter().chain(said) {
                writer.clock_fix(boot, fix.reading, fix.kind).expect("known boot");
                fixes += 1;
            }
            if mono % every == 0 {
                let current = current(taken.len());
                writer.append(series, &sample(boot, mono, &[52.0, current, 20.0])).expect("fits");
                taken.push((boot, mono, current));
            }
            if mono % (300 * SECOND) == 0 {
                writer.commit().expect("room");
            }
        }
        writer.commit().expect("room");
        let timeline = writer.timeline().expect("reads");
        for mono in (0..until).step_by(60_000).map(MonoMs) {
            let at = Moment { boot, mono };
            assert_eq!(keeper.timeline().utc(at), timeline.utc(at), "the daemon and the store say the same");
        }
        noted.push(fixes);
    }
    let voyage = Voyage { scratch, series, gap, taken, noted };
    voyage.check();
    writer.close().expect("room");
    voyage.check();
    voyage
}

impl Voyage {
    fn reader(&self) -> Reader {
        Reader::open(&self.scratch.path).expect("opens")
    }

    fn placed(&self) -> Vec<StoredSample> {
        all_samples(&self.scratch.path, self.series)
    }

    /// Charge in and out of all intervals that are no gaps, Ah.
    fn charge_by_hand(&self) -> (f64, f64) {
        let mut sums = (0.0, 0.0);
        for pair in self.taken.windows(2) {
            let [(boot, then, before), (now_boot, now, after)] = [pair[0], pair[1]];
            let seconds = (now - then) as f64 / 1000.0;
            if boot != now_boot || now - then > self.gap {
                continue;
            }
            if before * after < 0.0 {
                let until_zero = seconds * before / (before - after);
                for area in [before * until_zero, after * (seconds - until_zero)] {
                    if area > 0.0 { sums.0 += area / 7200.0 } else { sums.1 -= area / 7200.0 }
                }
            } else {
                let area = (before + after) * seconds;
                if area > 0.0 { sums.0 += area / 7200.0 } else { sums.1 -= area / 7200.0 }
            }
        }
        sums
    }

    /// Nothing lost, nothing doubled, whatever the axis is cut into; order and sums right; history says the same.
    fn check(&self) {
        let placed = self.placed();
        let moments: Vec<_> = placed.iter().map(|s| (s.sample.at.boot, s.sample.at.mono.0)).collect();
        let taken: Vec<_> = self.taken.iter().map(|(boot, mono, _)| (*boot, *mono)).collect();
        assert_eq!(moments, taken, "every sample once, in the order in which it was taken");
        let reader = self.reader();
        let by_hand = self.charge_by_hand();
        let whole = reader.sums(self.series, UtcMs(i64::MIN), UtcMs(i64::MAX)).expect("reads");
        close(whole.charge_in_ah, by_hand.0);
        close(whole.charge_out_ah, by_hand.1);
        let edges = self.cuts(&placed);
        let cells = reader.between(self.series, &["current_a"], &edges).expect("reads").remove(0);
        let (mut charge_in, mut charge_out, mut count) = (0.0, 0.0, 0);
        for (pair, cell) in edges.windows(2).zip(&cells) {
            let sums = reader.sums(self.series, pair[0], pair[1]).expect("reads");
            let samples: Vec<_> =
                reader.samples(self.series, pair[0], pair[1]).expect("reads").map(Result::unwrap).collect();
            assert!(samples.iter().all(|s| pair[0] <= s.utc && s.utc < pair[1]), "each lies in its own part");
            assert_eq!(cell.count, samples.len() as i64);
            close(cell.positive / 3600.0, sums.charge_in_ah);
            close(-cell.negative / 3600.0, sums.charge_out_ah);
            (charge_in, charge_out) = (charge_in + sums.charge_in_ah, charge_out + sums.charge_out_ah);
            count += samples.len();
        }
        assert_eq!(count, self.taken.len(), "no part loses or doubles any");
        close(charge_in, by_hand.0);
        close(charge_out, by_hand.1);
        self.check_history(&reader, &placed, &edges);
    }

    /// Cuts at random, and at both ends of all that is there.
    fn cuts(&self, placed: &[StoredSample]) -> Vec<UtcMs> {
        let utc = || placed.iter().map(|s| s.utc.0);
        let (first, last) = (utc().min().expect("some"), utc().max().expect("some") + 1);
        let mut seed = self.taken.len() as i64;
        let mut random = |below: i64| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            (seed >> 20).rem_euclid(below)
        };
        let mut cuts = BTreeSet::from([first, last]);
        for _ in 0..10 {
            cuts.insert(first + random(last - first));
            // Years may lie between two samples: half of the cuts are near one.
            let number = usize::try_from(random(placed.len() as i64)).expect("positive");
            cuts.insert((placed[number].utc.0 + random(5000) - 2500).clamp(first, last));
        }
        cuts.into_iter().map(UtcMs).collect()
    }

    /// Every sample shows in the extremes of exactly one bin at any zoom, and single bins have the mean of their samples.
    fn check_history(&self, reader: &Reader, placed: &[StoredSample], edges: &[UtcMs]) {
        let (first, last) = (edges[0], edges[edges.len() - 1]);
        let read = |from, to, points| {
            let channels = vec!["current_a".to_owned()];
            let query = HistoryQuery { series: self.series, channels, from, to, points };
            reader.history(&query).expect("reads")
        };
        let values = || self.taken.iter().map(|(_, _, current)| *current);
        let most = values().fold(f64::NEG_INFINITY, f64::max);
        let least = values().fold(f64::INFINITY, f64::min);
        for points in [5, 300, 5000] {
            let history = read(first, last, points);
            let column = &history.channels[0];
            let times =
                |all: &[Option<f64>], wanted: f64| all.iter().flatten().filter(|v| (**v - wanted).abs() < 1e-9).count();
            assert_eq!((times(&column.max, most), times(&column.min, least)), (1, 1), "step {} ms", history.step_ms);
        }
        for number in [0, placed.len() / 3, placed.len() - 1] {
            let around = UtcMs(placed[number].utc.0 - 20 * 60_000);
            let history = read(around, UtcMs(around.0 + 40 * 60_000), 41);
            for (start, mean) in history.time_ms.iter().zip(&history.channels[0].mean) {
                let bin = *start..start + history.step_ms;
                let inside: Vec<f64> =
                    placed.iter().filter(|s| bin.contains(&s.utc.0)).filter_map(|s| s.sample.values[1]).collect();
                let expected = (!inside.is_empty()).then(|| inside.iter().sum::<f64>() / inside.len() as f64);
                assert!(expected.is_some() == mean.is_some(), "at {start}");
                close(expected.unwrap_or(0.0), mean.unwrap_or(0.0));
            }
        }
    }

    /// Checks that each sample lies within `within` ms of where it belongs.
    fn lies(&self, within: i64, belongs: impl Fn(BootNo, i64) -> i64) {
        for StoredSample { utc, sample, .. } in self.placed() {
            let expected = belongs(sample.at.boot, sample.at.mono.0);
            assert!((utc.0 - expected).abs() <= within, "{:?} lies at {}, not at {expected}", sample.at, utc.0);
        }
    }

    fn rises(&self) {
        assert!(self.placed().windows(2).all(|pair| pair[0].utc < pair[1].utc), "UTC rises from sample to sample");
    }
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() <= 1e-6 * a.abs().max(1.0), "{a} is not {b}");
}

#[test]
fn a_boot_that_begins_in_1970_is_placed_whole_once_the_time_is_known() {
    let late = |mono| if mono < HOUR { (mono, Trust::Untrusted) } else { (START + mono, Trust::Synchronised) };
    let voyage = sail(vec![Boot::new(2 * HOUR + 600_000, SECOND, late)]);
    voyage.lies(0, |_, mono| START + mono);
    voyage.rises();
    assert!(voyage.placed().iter().all(|sample| sample.trusted));
}

#[test]
fn a_time_set_by_hand_holds_against_a_clock_that_is_stepped_and_gives_way_to_a_source() {
    // Nothing vouches for this clock, and it is stepped by years after somebody has said what time it is.
    let astray = |mono| {
        if mono < HOUR {
            (START - 2 * DAY + mono, Trust::Plausible)
        } else {
            (START + 3 * YEAR + mono, Trust::Plausible)
        }
    };
    let by_hand = Boot { stated: Some((1200 * SECOND, START + 1200 * SECOND)), ..Boot::new(2 * HOUR, SECOND, astray) };
    let voyage = sail(vec![by_hand]);
    voyage.lies(0, |_, mono| START + mono);
    voyage.rises();
    let found =
        |mono| if mono < HOUR { (mono, Trust::Untrusted) } else { (START + 90 * SECOND + mono, Trust::Synchronised) };
    let by_hand = Boot { stated: Some((1200 * SECOND, START + 1200 * SECOND)), ..Boot::new(2 * HOUR, SECOND, found) };
    sail(vec![by_hand]).lies(0, |_, mono| START + 90 * SECOND + mono);
}

#[test]
fn a_source_that_is_a_week_off_until_it_is_corrected_places_what_comes_after_the_correction() {
    const CORRECTED: i64 = 5400 * SECOND;
    let week_off = |mono| (START + mono - if mono < CORRECTED { 7 * DAY } else { 0 }, Trust::Synchronised);
    let voyage = sail(vec![Boot::new(4 * HOUR, SECOND, week_off)]);
    voyage.lies(0, |_, mono| START + mono - if mono < CORRECTED { 7 * DAY } else { 0 });
    let reader = voyage.reader();
    let before = reader.samples(voyage.series, UtcMs(START - 8 * DAY), UtcMs(START)).expect("reads").count();
    assert_eq!(before, 5400, "what came before it stays a week early, all of it");
}

#[test]
fn a_step_back_across_the_boundary_of_a_chunk_shows_the_time_twice_and_each_sample_once() {
    // Chunks close on whole hours of the boot.
    const SET: i64 = HOUR - 10 * SECOND;
    let set_back = |mono| (START + mono - if mono < SET { 0 } else { 1200 * SECOND }, Trust::Plausible);
    let voyage = sail(vec![Boot::new(3 * HOUR, SECOND, set_back)]);
    voyage.lies(0, |_, mono| START + mono - if mono < SET { 0 } else { 1200 * SECOND });
    let twice = UtcMs(START + SET - 600 * SECOND);
    let samples = voyage.reader().samples(voyage.series, twice, UtcMs(twice.0 + 60 * SECOND)).expect("reads").count();
    assert_eq!(samples, 120, "two stretches lie over the same minute");
}

#[test]
fn steps_of_years_forward_and_back_lose_and_double_nothing() {
    let wild = |mono: i64| {
        let by = [0, 3 * YEAR, -5 * YEAR, 12 * YEAR + 1234, -YEAR, 0]
            [usize::try_from(mono / (40 * 60_000)).expect("positive")];
        (START + mono + by, Trust::Plausible)
    };
    let voyage = sail(vec![Boot::new(4 * HOUR - 600_000, SECOND, wild)]);
    voyage.lies(0, |_, mono| wild(mono).0);
    assert_eq!(voyage.noted, [6]);
}

#[test]
fn drifts_in_both_directions_are_followed_for_days() {
    for ppm in [-200, -20, 20, 200] {
        let drifting = move |mono: i64| (START + mono + mono * ppm / 1_000_000, Trust::Plausible);
        let voyage = sail(vec![Boot::new(3 * DAY, 30 * SECOND, drifting)]);
        // Half a second is noted; what a look comes late by is far less.
        voyage.lies(502, |_, mono| drifting(mono).0);
        voyage.rises();
        let slipped = 3 * DAY * ppm.abs() / 1_000_000;
        let fixes = 1 + usize::try_from(slipped / 500).expect("positive");
        assert!((fixes - 2..=fixes).contains(&voyage.noted[0]), "{ppm} ppm: {:?} of {fixes}", voyage.noted);
    }
}

#[test]
fn a_suspended_computer_counts_on_and_needs_no_new_fix() {
    let steady = |mono| (START + mono, Trust::Plausible);
    let asleep = HOUR + 100 * SECOND..9 * HOUR + 37 * SECOND;
    let voyage = sail(vec![Boot { asleep: asleep.clone(), ..Boot::new(11 * HOUR, SECOND, steady) }]);
    voyage.lies(0, |_, mono| START + mono);
    assert_eq!(voyage.noted, [1]);
    let sums = voyage.reader().sums(voyage.series, UtcMs(START), UtcMs(START + 11 * HOUR)).expect("reads");
    let awake = (11 * HOUR - (asleep.end - asleep.start)) as f64 / 1000.0;
    // Neither the first sample after each start nor the sleep has an interval.
    close(sums.covered_s, awake - 2.0);
}

#[test]
fn a_leap_second_smeared_over_a_day_is_two_small_fixes() {
    const FROM: i64 = 6 * HOUR;
    let smeared = |mono: i64| (START + mono - (mono - FROM).clamp(0, DAY) / 86_400, Trust::Synchronised);
    let voyage = sail(vec![Boot::new(36 * HOUR, 10 * SECOND, smeared)]);
    voyage.lies(501, |_, mono| smeared(mono).0);
    voyage.rises();
    assert_eq!(voyage.noted, [3], "one at the start, one for each half second");
}

#[test]
fn two_boots_that_overlap_in_utc_both_stay_whole() {
    // The first boot's source was half an hour ahead.
    let ahead = |mono| (START + 1800 * SECOND + mono, Trust::Synchronised);
    let right = |mono| (START + HOUR + 60 * SECOND + mono, Trust::Synchronised);
    let voyage = sail(vec![Boot::new(HOUR, SECOND, ahead), Boot::new(2 * HOUR, SECOND, right)]);
    let begins = |boot: BootNo| if boot == BootNo(1) { 1800 * SECOND } else { HOUR + 60 * SECOND };
    voyage.lies(0, |boot, mono| START + begins(boot) + mono);
    let (from, to) = (UtcMs(START + HOUR + 600 * SECOND), UtcMs(START + HOUR + 660 * SECOND));
    let both = voyage.reader().samples(voyage.series, from, to).expect("reads").count();
    assert_eq!(both, 120);
}

#[test]
fn a_boot_whose_clock_is_behind_the_record_is_placed_though_not_believed() {
    let right = |mono| (START + mono, Trust::Plausible);
    let behind = |mono| (START - 2 * DAY + mono, Trust::Plausible);
    let voyage = sail(vec![Boot::new(HOUR, SECOND, right), Boot::new(HOUR, SECOND, behind)]);
    voyage.lies(0, |boot, mono| START + mono - if boot == BootNo(1) { 0 } else { 2 * DAY });
    assert!(voyage.placed().iter().all(|sample| sample.trusted == (sample.sample.at.boot == BootNo(1))));
}
