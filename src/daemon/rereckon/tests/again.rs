//! What is found again, and what the samples do not tell.

use super::*;

/// The same program on the same description: what differs is the widening at a restart within a boot, and the minute
/// between a start and its first sample.
#[test]
fn a_voyage_with_restarts_is_found_again() {
    let boat = Boat::new();
    boat.sail();
    let before = boat.results(HOUSE);
    assert!(before.fixes.len() >= 2, "{:?}", before.fixes);
    let report = boat.again(boat.bank(HOUSE), Wish::default());
    let after = boat.results(HOUSE);
    assert_eq!(report.samples, 700 + 195 + 369);
    assert_eq!((report.unread, boat.left_over()), (Unread::default(), 0));
    let told = |results: &Results| -> Vec<_> {
        results.fixes.iter().map(|stored| (stored.fix.at, stored.fix.kind.clone())).collect()
    };
    assert_eq!(told(&after), told(&before));
    let times = |points: &[StoredSample]| points.iter().map(|p| p.utc).collect::<Vec<_>>();
    assert_eq!(times(&after.track), times(&before.track));
    for (old, new) in before.track.iter().zip(&after.track) {
        assert!((soc(old) - soc(new)).abs() < 0.01, "{old:?} {new:?}");
    }
    // Up to the first restart nothing differs at all.
    let first = before.track.iter().take_while(|point| minute_of(Some(point.utc)) < 700).count();
    assert_eq!(before.track[..first], after.track[..first]);
    assert_eq!(times(&after.reconciled), times(&before.reconciled));
    assert_eq!(after.checkpoint.as_ref().map(|saved| saved.at.boot), Some(BootNo(2)));
    assert_eq!(after.anchors.len(), 1, "where the present run begins");
}

#[test]
fn a_corrected_capacity_gives_another_result_which_the_daemon_goes_on_with() {
    let mut boat = Boat::new();
    boat.sail();
    let before = boat.results(HOUSE);
    boat.config.banks[HOUSE].rated_capacity_ah = 90.0;
    let report = boat.again(boat.bank(HOUSE), Wish::default());
    let after = boat.results(HOUSE);
    // Before the first fix nothing is known of the charge.
    let lowest = |results: &Results| {
        let known = results.fixes.iter().filter_map(|stored| stored.utc).min();
        results.track.iter().filter(|point| Some(point.utc) >= known).map(soc).fold(1.0, f64::min)
    };
    assert!(lowest(&after) < lowest(&before) - 0.05, "{} after {}", lowest(&after), lowest(&before));
    let capacity = |standing: Standing| standing.latest.expect("a track").1;
    assert!(capacity(report.after) < capacity(report.before) - 15.0, "{report:?}");
    assert_eq!((report.before.fixes, report.after.fixes), (before.fixes.len(), after.fixes.len()));
    let mut daemon = boat.start("the second", 930, 1300);
    let resumed = daemon.lines[HOUSE].resting().reckoned;
    let last = after.track.last().expect("a point");
    assert!((resumed.soc - soc(last)).abs() < 0.01 && resumed.start_known, "{resumed:?} {last:?}");
    boat.live(&mut daemon, HOUSE, 930, 1300..1700);
    drop(daemon);
    let gone_on = boat.results(HOUSE);
    assert_eq!(gone_on.track[..after.track.len()], after.track);
    assert!(gone_on.fixes.len() > after.fixes.len() && gone_on.reconciled.len() > after.reconciled.len());
}

#[test]
fn what_people_said_at_the_time_is_said_again() {
    let boat = Boat::new();
    let mut daemon = boat.start("the first", 0, 0);
    boat.live(&mut daemon, HOUSE, 0, 0..51);
    let Prepared { lines, writer, .. } = &mut daemon;
    lines[HOUSE].fix_by_hand(0.70, 0.02, UtcMs(MAY + 50 * MINUTE), writer).expect("heard");
    boat.live(&mut daemon, HOUSE, 0, 51..62);
    let Prepared { lines, writer, .. } = &mut daemon;
    lines[HOUSE].zero_by_hand(writer).expect("no load");
    boat.live(&mut daemon, HOUSE, 0, 62..200);
    drop(daemon);
    let before = boat.results(HOUSE);
    let events = |boat: &Boat| Reader::open(&boat.path()).and_then(|r| r.latest_events(100)).expect("reads");
    let told = events(&boat);
    let report = boat.again(boat.bank(HOUSE), Wish::default());
    assert_eq!((report.unread.acts, report.before.fixes, report.after.fixes), (0, 1, 1));
    let after = boat.results(HOUSE);
    assert_eq!(after.fixes, before.fixes, "the row stays as it was written");
    assert_eq!(events(&boat), told, "nothing is told anew");
    let offset_a = |results: &Results| results.learned(boat.bank(HOUSE)).sensor_offset_a.value;
    assert!((offset_a(&before) - 0.2).abs() < 0.02, "{}", offset_a(&before));
    assert!((offset_a(&after) - offset_a(&before)).abs() < 0.005, "{}", offset_a(&after));
    for (old, new) in before.track.iter().zip(&after.track) {
        assert!(old.utc == new.utc && (soc(old) - soc(new)).abs() < 0.01, "{old:?} {new:?}");
    }
    assert_eq!(after.reconciled.len(), before.reconciled.len());
}

/// The house bank's trace of some minutes of the voyage, brought in as a boot of its own.
fn bring_in(boat: &Boat, name: &str, at_minute: i64, minutes: Range<i64>) {
    let mut writer = Writer::open(&boat.path(), Options::default()).expect("opens");
    let boot = writer.begin_boot(name, BootKind::Import).expect("noted");
    let utc = UtcMs(MAY + at_minute * MINUTE);
    let wall = WallReading { mono: MonoMs(0), utc, trust: Trust::Synchronised };
    writer.clock_fix(boot, wall, "import").expect("known boot");
    let main = writer.series(&crate::daemon::device_series(&boat.config.devices[HOUSE])).expect("fits");
    for (minute, mono) in minutes.zip((0..).step_by(60_000)) {
        let at = Moment { boot, mono: MonoMs(mono) };
        writer.append_values(main, at, &seen_in(minute)).expect("known");
    }
    writer.commit().expect("room");
}

#[test]
fn a_trace_from_the_past_is_reckoned_beside_and_a_later_one_in_the_bank_s_own_line() {
    let boat = Boat::new();
    let mut daemon = boat.start("the first", 0, 0);
    boat.live(&mut daemon, HOUSE, 0, 0..530);
    drop(daemon);
    bring_in(&boat, "from the past", -2000, 0..200);
    bring_in(&boat, "afterwards", 560, 560..700);
    boat.again(boat.bank(HOUSE), Wish::default());
    let results = boat.results(HOUSE);
    let of = |boot: u32| results.track.iter().filter(move |point| point.sample.at.boot == BootNo(boot));
    let width = |point: &StoredSample| point.sample.values[2].zip(point.sample.values[1]).map(|(high, low)| high - low);
    assert_eq!((of(2).count(), of(3).count()), (200, 140));
    assert!(of(2).next().and_then(width) > Some(0.8), "nothing is known where it begins");
    assert!(of(3).next().and_then(width) < Some(0.2), "it goes on from the full fix");
    assert_eq!(results.checkpoint.map(|saved| saved.at.boot), Some(BootNo(3)));
    assert_eq!((results.anchors.len(), boat.left_over()), (1, 0));
    assert_eq!(results.anchors[0].anchor.at.boot, BootNo(3), "a run of its own began with the trace");
}

#[test]
fn a_chunk_that_cannot_be_read_is_time_when_nobody_was_watching() {
    let boat = Boat::new();
    let mut daemon = boat.start("the first", 0, 0);
    boat.live(&mut daemon, HOUSE, 0, 0..1900);
    drop(daemon);
    let broken = rusqlite::Connection::open(boat.path())
        .and_then(|c| {
            let sql = "UPDATE chunk SET data = zeroblob(40) WHERE first_mono_ms BETWEEN 1 AND 40000000
                AND series = (SELECT id FROM series WHERE name = 'shunt') RETURNING count";
            c.query_row(sql, [], |row| row.get::<_, u32>(0))
        })
        .expect("a second chunk");
    let report = boat.again(boat.bank(HOUSE), Wish::default());
    assert_eq!((report.unread.stretches, report.unread.samples), (1, u64::from(broken)));
    assert_eq!(report.samples + u64::from(broken), 1900);
    let results = boat.results(HOUSE);
    let last = results.track.last().expect("a point");
    assert_eq!(minute_of(Some(last.utc)), 1899, "it goes on after the hole");
}
