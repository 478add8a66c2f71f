//! Minutes against the store's own sums.

use super::*;
use crate::daemon::survey::walk::{Stretch, Walk, Watching};
use crate::health::FixMark;
use crate::quantity::{Minute, Reading};

/// Keeps what it is shown.
#[derive(Default)]
struct Notebook {
    minutes: Vec<Minute>,
    readings: usize,
    monobloc_v: Vec<f64>,
    fixes: usize,
}

impl Watching for Notebook {
    fn reading(&mut self, _: Moment, _: &Reading, monobloc_v: &[f64]) {
        self.readings += 1;
        self.monobloc_v = monobloc_v.to_vec();
    }

    fn minute(&mut self, minute: &Minute) {
        self.minutes.push(minute.clone());
    }

    fn fix(&mut self, _: &FixMark) {
        self.fixes += 1;
    }
}

fn walk(boat: &Boat, stretches: &[(u32, i64, i64)]) -> Notebook {
    let (reader, work) = (boat.reader(), boat.work());
    let instruments = Instruments::find(&reader, &work).expect("reads").expect("there");
    let (mut eyes, mut end, stop) = (Notebook::default(), None, CancellationToken::new());
    for &(boot, from, to) in stretches {
        let mut walk = Walk { reader: &reader, work: &work, instruments: &instruments, eyes: &mut eyes, stop: &stop };
        let stretch = Stretch { boot: BootNo(boot), from: MonoMs(from), to: MonoMs(to) };
        end = walk.through(stretch, end).expect("reads").expect("not stopped");
    }
    eyes
}

#[test]
fn the_minutes_of_an_hour_add_up_to_the_sums_of_the_store() {
    let boat = Boat::after(&[leg("first", 0, 0..30 * HOUR), leg("second", 40 * HOUR, 40 * HOUR..50 * HOUR)]);
    let minutes = walk(&boat, &[(1, 0, 30 * 3_600_000), (2, 0, 10 * 3_600_000)]).minutes;
    let reader = boat.reader();
    let shunt = reader.all_series().expect("reads").into_iter().find(|one| one.name == "shunt").expect("there").id;
    for hour in (0..30).chain(40..50) {
        let from = MAY + hour * 3_600_000;
        let sums = reader.sums(shunt, UtcMs(from), UtcMs(from + 3_600_000)).expect("reads");
        let (boot, first) = if hour < 40 { (1, hour) } else { (2, hour - 40) };
        let of_hour = |minute: &&Minute| minute.at.boot.0 == boot && minute.at.mono.0 / 3_600_000 == first;
        let sum = |pick: fn(&Minute) -> f64| minutes.iter().filter(of_hour).map(pick).sum::<f64>();
        let pairs = [
            (sums.covered_s, sum(|minute| minute.covered_s)),
            (sums.charge_in_ah, sum(|minute| minute.charge_in_ah)),
            (sums.charge_out_ah, sum(|minute| minute.charge_out_ah)),
            (sums.energy_in_wh, sum(|minute| minute.energy_in_wh)),
            (sums.energy_out_wh, sum(|minute| minute.energy_out_wh)),
        ];
        for (stored, minutes) in pairs {
            assert!((stored - minutes).abs() <= 1e-9 * stored.abs().max(1.0), "hour {hour}: {stored} {minutes}");
        }
    }
}

#[test]
fn a_walk_in_pieces_shows_the_same_minutes() {
    let boat = Boat::after(&[leg("first", 0, 0..30 * HOUR)]);
    let whole = walk(&boat, &[(1, 0, 30 * 3_600_000)]);
    assert_eq!(whole.readings, 30 * 360);
    assert_eq!(whole.minutes.len(), 30 * 60);
    assert!(whole.fixes > 0);
    assert_eq!(whole.monobloc_v.len(), 2);
    let minute = |pieces: i64| -> Vec<(u32, i64, i64)> {
        let length = 30 * 60 / pieces;
        (0..pieces).map(|piece| (1, piece * length * 60_000, (piece + 1) * length * 60_000)).collect()
    };
    for pieces in [2, 9, 100] {
        let cut = walk(&boat, &minute(pieces));
        assert_eq!(cut.minutes, whole.minutes, "{pieces} pieces");
        assert_eq!((cut.readings, cut.fixes), (whole.readings, whole.fixes));
    }
}

#[test]
fn what_is_known_of_a_minute_is_in_it() {
    let boat = Boat::after(&[leg("first", 0, 0..12 * HOUR)]);
    let minutes = walk(&boat, &[(1, 0, 12 * 3_600_000)]).minutes;
    let under_way = &minutes[9 * 60];
    assert!(under_way.branch_a[0].is_some_and(|motor_a| motor_a < -10.9), "{under_way:?}");
    assert_eq!(under_way.monobloc_v.len(), 2);
    assert_eq!((under_way.speed_kn, under_way.balancing), (Some(4.0), None));
    assert!(under_way.soc.is_some_and(|soc| soc.soc > 0.5 && soc.soc < 0.9), "{under_way:?}");
    assert!(minutes[1..].iter().all(|minute| minute.unseen_s == Some(0.0)));
}

#[test]
fn time_off_between_boots_is_told_where_clocks_know_it() {
    let boat = Boat::after(&[leg("first", 0, 0..HOUR), leg("second", 3 * HOUR, 3 * HOUR..4 * HOUR)]);
    let minutes = walk(&boat, &[(1, 0, 3_600_000), (2, 0, 3_600_000)]).minutes;
    assert_eq!(minutes[0].unseen_s, None);
    assert_eq!(minutes[60].unseen_s, Some(2.0 * 3600.0));
}
