use super::*;
use crate::battery::{Bank, Branch, BranchChannel, Chemistry, SensorError};
use crate::health::toys::steady;
use crate::quantity::{Band, BandedSoc, BootNo, MINUTE_MS, MonoMs};

fn bank() -> Bank {
    Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible")
}

fn branch(name: &str, role: Role, purpose: Purpose) -> Branch {
    let channel = BranchChannel { device: "branches".to_owned(), channel: format!("{name}_a"), reversed: false };
    Branch {
        name: name.to_owned(),
        title: name.to_owned(),
        bank: "drive".to_owned(),
        role,
        purpose,
        channel: Some(channel),
        sensor: SensorError { gain: 0.01, offset_a: 0.05 },
    }
}

/// Motor, regeneration, generator, shore power.
fn branches() -> Vec<Branch> {
    vec![
        branch("motor", Role::Load, Purpose::Drive),
        branch("regeneration", Role::Source, Purpose::Drive),
        branch("generator", Role::Source, Purpose::Other),
        branch("shore", Role::Source, Purpose::Shore),
    ]
}

/// A boat that lives minute by minute.
struct Boat {
    bank: Bank,
    branches: Vec<Branch>,
    finder: Finder,
    at: Moment,
    unseen_s: Option<f64>,
    found: Vec<Found>,
}

const MOTOR: [f64; 4] = [-30.0, 0.0, 0.0, 0.0];
const NOTHING: [f64; 4] = [0.0; 4];
const SHORE: [f64; 4] = [0.0, 0.0, 0.0, 15.0];

impl Boat {
    fn new(branches: Vec<Branch>) -> Boat {
        let at = Moment { boot: BootNo(1), mono: MonoMs(0) };
        Boat { bank: bank(), branches, finder: Finder::default(), at, unseen_s: None, found: Vec::new() }
    }

    /// So many minutes with these branch currents, and a house load that no branch has.
    fn lives(&mut self, minutes: u32, branch_a: [f64; 4], house_a: f64) -> &mut Boat {
        self.with_speed(minutes, branch_a, house_a, None)
    }

    fn with_speed(&mut self, minutes: u32, branch_a: [f64; 4], house_a: f64, speed_kn: Option<f64>) -> &mut Boat {
        for _ in 0..minutes {
            let current_a = branch_a.iter().sum::<f64>() - house_a;
            let mut minute = steady(self.at, current_a);
            minute.unseen_s = self.unseen_s;
            minute.speed_kn = speed_kn;
            minute.branch_a = branch_a.iter().take(self.branches.len()).map(|&a| Some(a)).collect();
            let aboard = Aboard { bank: &self.bank, branches: &self.branches };
            let text = serde_json::to_string(&self.finder).expect("plain values");
            self.finder = serde_json::from_str(&text).expect("own text");
            self.finder.minute(&aboard, &Rules::of(&self.bank), &minute, &mut self.found);
            self.at = minute.end();
            self.unseen_s = Some(0.0);
        }
        self
    }

    fn unseen(&mut self, minutes: u32) -> &mut Boat {
        self.at.mono = self.at.mono + i64::from(minutes) * MINUTE_MS;
        self.unseen_s = Some(60.0 * f64::from(minutes));
        self
    }

    fn boots_again(&mut self, unseen_s: Option<f64>) -> &mut Boat {
        self.at = Moment { boot: BootNo(self.at.boot.0 + 1), mono: MonoMs(120_000) };
        self.unseen_s = unseen_s;
        self
    }

    fn is_full(&mut self) -> &mut Boat {
        let after = BandedSoc { soc: 1.0, band: Band { low: 0.98, high: 1.0 } };
        self.finder.fix(&FixMark { at: self.at, kind: FixKind::Full, before: None, after });
        self
    }

    /// What has ended, in minutes since the start of its boot.
    fn ended(&self) -> Vec<(i64, i64)> {
        let minute = |moment: Moment| moment.mono.0 / MINUTE_MS;
        self.found.iter().filter_map(|found| Some((minute(found.begin), minute(found.end?)))).collect()
    }
}

#[test]
fn a_passage_lasts_from_the_first_drive_load_to_the_last_before_the_berth() {
    let mut boat = Boat::new(branches());
    boat.lives(60, SHORE, 2.0).lives(90, MOTOR, 2.0).lives(239, SHORE, 2.0);
    assert_eq!(boat.found[0], Found { begin: Moment { boot: BootNo(1), mono: MonoMs(60 * MINUTE_MS) }, end: None });
    assert_eq!(boat.ended(), [(60, 150)]);
    assert_eq!(boat.found.len(), 2, "told when it is certain and when it has ended");
}

#[test]
fn lunch_at_anchor_and_an_hour_ashore_cut_nothing() {
    let mut boat = Boat::new(branches());
    boat.lives(60, MOTOR, 2.0)
        .lives(110, NOTHING, 2.0)
        .lives(30, MOTOR, 2.0)
        .lives(60, SHORE, 2.0)
        .lives(45, MOTOR, 2.0);
    boat.lives(600, SHORE, 2.0);
    assert_eq!(boat.ended(), [(0, 305)]);
}

#[test]
fn a_night_at_anchor_with_house_loads_ends_it() {
    let mut boat = Boat::new(branches());
    boat.lives(60, MOTOR, 5.0).lives(600, NOTHING, 5.0).lives(40, MOTOR, 5.0).lives(300, NOTHING, 5.0);
    assert_eq!(boat.ended(), [(0, 60), (660, 700)]);
}

#[test]
fn a_motor_that_is_tried_is_no_passage_and_does_not_begin_the_next_one() {
    let mut boat = Boat::new(branches());
    boat.lives(3, MOTOR, 2.0).lives(90, NOTHING, 2.0).lives(40, MOTOR, 2.0).lives(300, SHORE, 2.0);
    assert_eq!(boat.ended(), [(93, 133)]);
    let mut moored = Boat::new(branches());
    moored.lives(30, [-15.0, 0.0, 0.0, 15.0], 2.0).lives(300, SHORE, 2.0);
    assert_eq!(moored.found, [], "on shore power a running motor moves nothing");
}

#[test]
fn regeneration_a_generator_and_speed_keep_it_going() {
    let mut boat = Boat::new(branches());
    boat.lives(20, MOTOR, 2.0).lives(300, [0.0, 8.0, 0.0, 0.0], 2.0).lives(150, [0.0, 0.0, 40.0, 0.0], 2.0);
    boat.with_speed(300, NOTHING, 2.0, Some(5.0)).lives(10, MOTOR, 2.0).with_speed(300, NOTHING, 2.0, Some(0.4));
    assert_eq!(boat.ended(), [(0, 780)]);
    let mut on_the_drive = Boat::new(branches());
    on_the_drive.lives(20, MOTOR, 2.0).lives(300, [8.0, 0.0, 0.0, 0.0], 2.0).lives(240, NOTHING, 2.0);
    assert_eq!(on_the_drive.ended(), [(0, 320)], "the drive's own channel shows what it gives back");
}

#[test]
fn the_remainder_can_be_the_drive() {
    let mut rest = branches();
    rest[0].channel = None;
    rest.rotate_left(1);
    let mut boat = Boat::new(rest);
    let metered = |a: f64| [0.0, 0.0, a, 0.0];
    for (minutes, shore_a, drive_a) in [(60, 12.0, 0.0), (90, 0.0, 25.0), (240, 12.0, 0.0)] {
        for _ in 0..minutes {
            let mut minute = steady(boat.at, shore_a - drive_a);
            minute.branch_a = metered(shore_a)[..3].iter().map(|&a| Some(a)).collect();
            let aboard = Aboard { bank: &boat.bank, branches: &boat.branches };
            boat.finder.minute(&aboard, &Rules::of(&boat.bank), &minute, &mut boat.found);
            boat.at = minute.end();
        }
    }
    assert_eq!(boat.ended(), [(60, 150)]);
}

#[test]
fn a_restart_under_way_cuts_nothing_and_days_off_end_it() {
    let mut boat = Boat::new(branches());
    boat.lives(60, MOTOR, 2.0).boots_again(Some(300.0)).lives(30, MOTOR, 2.0).boots_again(None).lives(30, MOTOR, 2.0);
    assert_eq!(boat.ended(), []);
    boat.boots_again(Some(2.0 * 86_400.0)).lives(60, NOTHING, 2.0).lives(30, MOTOR, 2.0).lives(240, NOTHING, 2.0);
    let [first, second] = boat.found.iter().filter(|found| found.end.is_some()).collect::<Vec<_>>()[..] else {
        panic!("{:?}", boat.found)
    };
    assert_eq!((first.begin.boot, first.end.map(|end| end.boot)), (BootNo(1), Some(BootNo(3))));
    assert_eq!((second.begin.boot, second.end.map(|end| end.boot)), (BootNo(4), Some(BootNo(4))));
}

#[test]
fn time_off_of_unknown_length_at_rest_ends_it() {
    let mut boat = Boat::new(branches());
    boat.lives(60, MOTOR, 2.0).lives(30, NOTHING, 2.0).boots_again(None).lives(30, MOTOR, 2.0);
    assert_eq!(boat.ended(), [(0, 60)]);
}

#[test]
fn a_gap_counts_as_rest() {
    let mut boat = Boat::new(branches());
    boat.lives(60, MOTOR, 2.0).unseen(60).lives(30, MOTOR, 2.0).unseen(240).lives(30, MOTOR, 2.0);
    assert_eq!(boat.ended(), [(0, 150)]);
}

#[test]
fn without_a_drive_a_tenth_of_the_capacity_makes_a_passage_and_full_or_rest_ends_it() {
    let mut boat = Boat::new(Vec::new());
    // 6 A of 120 Ah: 12 Ah after two hours. A generator at sea charges for four hours and is no harbour.
    boat.lives(60, NOTHING, 0.5).lives(180, NOTHING, 6.0).lives(240, NOTHING, -20.0).lives(120, NOTHING, 6.0);
    assert_eq!(boat.found.len(), 1);
    boat.lives(60, NOTHING, -20.0).is_full().lives(240, NOTHING, -3.0);
    assert_eq!(boat.ended(), [(60, 600)]);
    boat.lives(60, NOTHING, 6.0).lives(60, NOTHING, -6.0);
    assert_eq!(boat.found.len(), 2, "an evening's load that is put back is none");
    boat.lives(150, NOTHING, 6.0).lives(200, NOTHING, 0.3);
    assert_eq!(boat.ended()[1], (1020, 1170));
}

#[test]
fn where_the_drive_is_not_read_the_bank_speaks_for_it() {
    let mut boat = Boat::new(branches());
    for _ in 0..120 {
        let mut minute = steady(boat.at, -30.0);
        minute.branch_a = vec![None; 4];
        let aboard = Aboard { bank: &boat.bank, branches: &boat.branches };
        boat.finder.minute(&aboard, &Rules::of(&boat.bank), &minute, &mut boat.found);
        boat.at = minute.end();
    }
    boat.unseen_s = Some(0.0);
    boat.lives(200, NOTHING, 2.0);
    assert_eq!(boat.ended(), [(0, 120)]);
}
