use super::*;
use crate::battery::{Bank, Branch, Chemistry};
use crate::health::record::{Finding, FullLoop, UseDay};
use crate::health::toys::{Season, drive_bank, full_fix, load, minute, soc};
use crate::health::watch::{Aboard, Out};

/// Lets both watches live through some days, as a record and its events.
struct Life {
    bank: Bank,
    branches: Vec<Branch>,
    days: Days,
    loops: Loops,
    out: Out,
}

impl Life {
    fn new(branches: Vec<Branch>) -> Life {
        let bank = drive_bank(Chemistry::LeadCarbon);
        let aboard = Aboard { bank: &bank, branches: &branches };
        let (days, loops) = (Days::new(&aboard), Loops::new(&aboard));
        Life { bank, branches, days, loops, out: Out::default() }
    }

    fn live(&mut self, season: &mut Season, days: i64) {
        let aboard = Aboard { bank: &self.bank, branches: &self.branches };
        for _ in 0..days * 1440 {
            let (mut minute, full) = season.next();
            if self.branches.iter().any(|branch| branch.channel.is_none()) {
                minute.branch_a.truncate(2);
            }
            self.days.minute(&aboard, &minute, &mut self.out);
            self.loops.minute(&aboard, &minute, &mut self.out);
            if full {
                self.loops.fix(&aboard, &full_fix(&minute), &mut self.out);
            }
        }
    }

    fn use_days(&self) -> Vec<UseDay> {
        let of = |finding: &Finding| if let Finding::Use(day) = finding { Some(day.clone()) } else { None };
        self.out.findings.iter().filter_map(of).collect()
    }

    fn full_loops(&self) -> Vec<FullLoop> {
        let of = |finding: &Finding| if let Finding::Loop(way) = finding { Some(way.clone()) } else { None };
        self.out.findings.iter().filter_map(of).collect()
    }

    /// Kinds that were told, with the day.
    fn told(&self) -> Vec<(&'static str, i64)> {
        self.out.told.iter().map(|told| (told.kind, told.at.mono.0 / 86_400_000)).collect()
    }
}

#[test]
fn a_day_sums_up_what_its_minutes_hold() {
    let mut life = Life::new(Vec::new());
    let aboard = Aboard { bank: &life.bank, branches: &life.branches };
    for n in 0..1441 {
        let mut minute = minute(n, if n < 600 { -6.0 } else { 3.0 }, 50.0);
        minute.soc = soc(if n < 600 { 0.55 } else { 1.0 });
        minute.temperature_c = Some(if n < 720 { -0.5 } else { 41.0 });
        life.days.minute(&aboard, &minute, &mut life.out);
    }
    let days = life.use_days();
    assert_eq!(days.len(), 1, "the second day goes on");
    let day = &days[0];
    assert!((day.charge_out_ah - 60.0).abs() < 1e-9 && (day.charge_in_ah - 42.0).abs() < 1e-9, "{day:?}");
    assert!((day.energy_out_wh - 3000.0).abs() < 1e-6 && (day.covered_s - 86_400.0).abs() < 1e-6);
    assert!((day.soc_tenths_s[5] - 36_000.0).abs() < 1e-6 && (day.soc_tenths_s[9] - 50_400.0).abs() < 1e-6);
    assert!((day.temperature_s[0] - 43_200.0).abs() < 1e-6 && (day.temperature_s[5] - 43_200.0).abs() < 1e-6);
    assert!((day.temperature_c.expect("read") - 20.25).abs() < 1e-9);
    assert!((day.cold_charge_ah - 6.0).abs() < 1e-9, "{}", day.cold_charge_ah);
    assert_eq!(day.lowest_soc.zip(day.highest_soc), Some((0.55, 1.0)));
    assert_eq!((day.standing_a.is_some(), day.unaccounted_a), (true, None));
    let hours = hours_by_temperature(&days);
    assert!(hours.iter().zip([12.0, 0.0, 0.0, 0.0, 0.0, 12.0]).all(|(a, b)| (a - b).abs() < 1e-9), "{hours:?}");
    assert!((shares_of_charge(&days).expect("known")[9] - 50_400.0 / 86_400.0).abs() < 1e-9);
}

#[test]
fn the_standing_load_is_what_is_left_between_the_refrigerators_turns() {
    let mut life = Life::new(Season::branches());
    life.live(&mut Season::new(1), 11);
    for day in life.use_days() {
        let standing = day.standing_a.expect("hours of quiet");
        assert!((standing.value - 0.6).abs() < 0.02, "{standing:?}");
        assert!(standing.std_dev >= 0.05, "the sensor's offset stays: {standing:?}");
    }
}

/// A season with errors in every sensor, as large as stated.
fn erring(seed: u64) -> Season {
    let mut season = Season::new(seed);
    season.branch_gains = [0.01, -0.005, 0.008];
    season.branch_offsets_a = [0.05, -0.06, 0.04];
    season.offset_a = -0.05;
    season
}

#[test]
fn a_load_on_no_branch_is_told_within_a_week_and_once() {
    let mut life = Life::new(Season::branches());
    let mut season = erring(2);
    life.live(&mut season, 40);
    assert_eq!(life.told(), []);
    season.hidden_a = 0.4;
    life.live(&mut season, 60);
    let told = life.told();
    assert!(told.len() == 1 && told[0].0 == "unaccounted-load" && (43..=47).contains(&told[0].1), "{told:?}");
    let text = &life.out.told[0].text;
    assert!(text.contains("a load of 0.39 A") && text.contains("sensor's zero"), "{text}");
    let last = life.use_days().pop().expect("days").unaccounted_a.expect("all branches are measured");
    // -0.4 A, -0.05 A of the bank's sensor, -0.03 A of the branches' offsets; their gains at up to 6 A make 0.03 A.
    assert!((last.value + 0.48).abs() < 0.05 && (last.std_dev - 0.1).abs() < 0.005, "{last:?}");
}

#[test]
fn what_the_remainder_draws_at_least_is_watched_where_a_branch_is_computed() {
    let mut branches = Season::branches();
    branches[2] = load("house", false);
    let mut life = Life::new(branches);
    let mut season = erring(3);
    life.live(&mut season, 30);
    assert_eq!(life.told(), []);
    assert!(life.use_days().iter().all(|day| day.unaccounted_a.is_none()));
    season.hidden_a = 0.4;
    life.live(&mut season, 20);
    let told = life.told();
    assert!(told.len() == 1 && told[0].0 == "unaccounted-load" && told[0].1 <= 37, "{told:?}");
}

/// Six years in which all offsets wander by their stated error in a year, up and down, and once step by it.
#[test]
fn offsets_that_wander_within_their_error_raise_no_alarm() {
    for seed in 0..3 {
        let mut life = Life::new(Season::branches());
        let mut season = erring(10 + seed);
        for fortnight in 0..52 {
            let phase = f64::from(fortnight) / 26.0 * std::f64::consts::TAU;
            season.branch_offsets_a = [0.05 * phase.sin(), -0.05 * phase.cos(), 0.05 * phase.cos()];
            season.offset_a = 0.05 * (phase + 1.0).sin() + if fortnight >= 30 { 0.05 } else { 0.0 };
            life.live(&mut season, 14);
        }
        assert_eq!(life.told(), [], "seed {seed}");
    }
}

#[test]
fn a_way_from_full_to_full_tells_the_efficiency() {
    let mut life = Life::new(Season::branches());
    life.live(&mut Season::new(4), 60);
    let loops = life.full_loops();
    assert!(loops.len() > 20, "{}", loops.len());
    for way in &loops {
        let efficiency = way.efficiency.expect("deep enough");
        assert!((efficiency.value - 0.95).abs() < 0.02 && efficiency.std_dev < 0.1, "{way:?}");
        assert!((2.0..14.0).contains(&way.charging_h), "{way:?}");
        assert!(way.unseen < 1e-9 && way.lowest_soc < Some(0.7));
    }
    let all = efficiency(&loops).expect("some");
    assert!(((all.value - 0.95) / all.std_dev).abs() < 2.0 && all.std_dev < 0.03, "{all:?}");
    assert!((2.0..14.0).contains(&time_to_full(&loops).expect("some")));
}

#[test]
fn a_sensor_that_drifts_is_told_and_one_that_does_not_is_not() {
    let mut life = Life::new(Season::branches());
    let mut season = Season::new(5);
    season.offset_a = 0.03;
    life.live(&mut season, 400);
    assert_eq!(life.told(), []);
    season.offset_a = 0.15;
    life.live(&mut season, 60);
    let told = life.told();
    let drift: Vec<_> = told.iter().filter(|(kind, _)| *kind == "sensor-drift").collect();
    let offset = life.full_loops().pop().expect("ways").offset_a.expect("known");
    assert!(drift.len() == 1 && drift[0].1 < 440, "{told:?} {offset:?}");
    assert!((offset.value - 0.15).abs() < 3.0 * offset.std_dev && offset.std_dev < 0.07, "{offset:?}");
}

#[test]
fn a_way_with_a_hole_in_it_says_nothing_of_the_efficiency() {
    let mut life = Life::new(Season::branches());
    let mut season = Season::new(6);
    life.live(&mut season, 3);
    let before = life.full_loops().len();
    let aboard = Aboard { bank: &life.bank, branches: &life.branches };
    let mut ended = false;
    while !ended {
        let (mut minute, full) = season.next();
        let hour = minute.at.mono.0 / 3_600_000;
        if hour % 24 == 13 {
            continue;
        }
        let lost = if hour % 24 == 14 && minute.at.mono.0 % 3_600_000 == 0 { 5.0 * 3600.0 } else { 0.0 };
        minute.unseen_s = Some(lost);
        life.loops.minute(&aboard, &minute, &mut life.out);
        if full {
            life.loops.fix(&aboard, &full_fix(&minute), &mut life.out);
            ended = true;
        }
    }
    let loops = life.full_loops();
    assert_eq!(loops.len(), before + 1);
    let way = &loops[before];
    assert!(way.efficiency.is_none() && way.unseen > 0.05, "{way:?}");
}

#[test]
fn watches_that_were_saved_go_on_as_if_nothing_had_been() {
    let (mut whole, mut pieces) = (Life::new(Season::branches()), Life::new(Season::branches()));
    let (mut one, mut other) = (erring(7), erring(7));
    for _ in 0..30 {
        whole.live(&mut one, 1);
        pieces.live(&mut other, 1);
        let saved = serde_json::to_string(&(&pieces.days, &pieces.loops)).expect("JSON");
        assert!(saved.len() < 20_000, "{}", saved.len());
        (pieces.days, pieces.loops) = serde_json::from_str(&saved).expect("the same");
    }
    assert_eq!(whole.out, pieces.out);
}
