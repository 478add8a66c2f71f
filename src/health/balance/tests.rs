use super::*;
use crate::battery::{Bank, Chemistry};
use crate::health::record::{BalanceDay, BalanceState, Finding};
use crate::health::toys::{Chance, drive_bank, full_fix, minute, soc, still};
use crate::health::watch::{Aboard, Out};

/// A 12 V lead monobloc as a curve: rest voltage by Nernst's logarithm of the acid, and an overvoltage that grows as the
/// plates run out, with capacity `held` of the nominal one and acid `acid` of it.
fn monobloc_v(drawn: f64, rate: f64, held: f64, acid: f64) -> f64 {
    let molality = 1.6 + 4.9 * (1.0 - drawn / acid);
    let rest = crate::battery::lead_cell_v(molality.max(0.5));
    let left = (1.0 - drawn / held).max(0.01);
    6.0 * (rest + rate * (0.08 + 0.04 / left.sqrt()))
}

/// Days of a string of four: down from full to `depth` under a changing load, rest, and up again.
struct Boat {
    bank: Bank,
    depth: f64,
    held: [f64; 4],
    acid: [f64; 4],
    offset_v: [f64; 4],
    /// What a balancer, each second hour at work, leaves of the offsets meanwhile.
    balancer: Option<f64>,
}

impl Boat {
    fn new() -> Boat {
        Boat {
            bank: drive_bank(Chemistry::LeadCarbon),
            depth: 0.5,
            held: [1.0; 4],
            acid: [1.0; 4],
            offset_v: [0.01, -0.012, 0.004, -0.002],
            balancer: None,
        }
    }

    fn live(&self, watch: &mut Balance, days: std::ops::Range<i64>, out: &mut Out) {
        let aboard = Aboard { bank: &self.bank, branches: &[] };
        let mut chance = Chance(u64::try_from(days.start).expect("from 0") + 99);
        let mut drawn: f64 = 0.0;
        let mut load = 0.1;
        for n in days.start * 1440..days.end * 1440 {
            let of_day = n % 1440;
            if of_day % 25 == 0 {
                load = 0.03 + 0.2 * chance.even();
            }
            let down = of_day < 840;
            let rate = if down { if drawn < self.depth { -load } else { 0.0 } } else { (drawn * 0.5).max(0.01) };
            drawn = (drawn - rate / 60.0).max(0.0);
            let mut minute = minute(n, rate * 120.0, if down { 50.0 } else { 56.6 });
            let at = minute.at;
            minute.balancing = self.balancer.map(|_| f64::from(u8::from(of_day / 60 % 2 == 1)));
            let left = self.balancer.filter(|_| minute.balancing == Some(1.0)).unwrap_or(1.0);
            let volts = (0..4).map(|m| {
                let v = if down { monobloc_v(drawn, rate, self.held[m], self.acid[m]) } else { 14.15 };
                still(at, v + left * self.offset_v[m] + 0.003 * chance.normal())
            });
            minute.monobloc_v = volts.collect();
            minute.soc = soc(1.0 - drawn);
            watch.minute(&aboard, &minute, out);
            if of_day == 1439 {
                watch.fix(&aboard, &full_fix(&minute), out);
            }
        }
    }

    fn days(&self, days: i64) -> (Vec<BalanceDay>, Out) {
        let mut out = Out::default();
        let mut watch = Balance::new(&Aboard { bank: &self.bank, branches: &[] });
        self.live(&mut watch, 0..days, &mut out);
        (found(&out), out)
    }
}

fn found(out: &Out) -> Vec<BalanceDay> {
    let of = |finding: &Finding| if let Finding::Balance(day) = finding { Some(day.clone()) } else { None };
    out.findings.iter().filter_map(of).collect()
}

#[test]
fn monoblocs_are_compared_at_rest_under_load_and_at_the_end_of_charge() {
    let boat = Boat::new();
    let (days, _) = boat.days(3);
    for state in [BalanceState::Rest, BalanceState::Load, BalanceState::ChargeEnd] {
        let of = |monobloc| days.iter().find(|day| day.state == state && day.monobloc == monobloc).expect("a day");
        for (monobloc, expected) in (1..).zip(boat.offset_v) {
            let day = of(monobloc);
            assert!((day.deviation_v - expected).abs() < 0.002, "{day:?}");
        }
        let sign = of(1).current_a;
        match state {
            BalanceState::Rest => assert!(sign.abs() < 0.1),
            BalanceState::Load => assert!(sign < -6.0),
            BalanceState::ChargeEnd => assert!(sign > 0.0),
        }
    }
}

#[test]
fn what_a_balancer_does_is_seen_by_its_contact() {
    let (days, _) = Boat { balancer: Some(0.25), ..Boat::new() }.days(3);
    let ends = days.iter().filter(|day| day.state == BalanceState::ChargeEnd);
    for day in ends.clone() {
        let offset_v = Boat::new().offset_v[day.monobloc as usize - 1];
        let (open_v, closed_v) = day.contact_open_v.zip(day.contact_closed_v).expect("both");
        assert!((open_v - offset_v).abs() < 0.001 && (closed_v - 0.25 * offset_v).abs() < 0.001, "{day:?}");
        assert!(day.balancing.is_some_and(|part| (0.3..0.7).contains(&part)), "{day:?}");
    }
    assert_eq!(ends.count(), 2 * 4, "the third day is not over");
    let (days, _) = Boat::new().days(2);
    assert!(!days.is_empty());
    assert!(
        days.iter().all(|day| day.balancing.is_none() && day.contact_open_v.is_none()),
        "no contact, no word of it"
    );
}

#[test]
fn a_sound_string_has_no_weak_monobloc() {
    let (days, out) = Boat::new().days(60);
    assert!(out.told.is_empty() && weakest(&days).is_none(), "{:?}", out.told);
    let last = days.iter().rev().find_map(|day| day.shortfall).expect("ways enough");
    assert!(last.value.abs() < 0.01, "{last:?}");
}

/// Capacity that is gone with its acid (sulphate, loss of water): the truth lies in the band, at any depth.
#[test]
fn a_shortfall_is_measured_from_the_deviation_against_depth() {
    for (depth, lacks) in [(0.4, 0.08), (0.6, 0.08), (0.8, 0.08), (0.6, 0.05), (0.6, 0.15)] {
        let held = [1.0, 1.0, 1.0 - lacks, 1.0];
        let (days, out) = Boat { depth, held, acid: held, ..Boat::new() }.days(30);
        let shortfall = weakest(&days).expect("one is weak").shortfall;
        assert!((shortfall.value - lacks).abs() < 1.96 * shortfall.std_dev, "{depth} {lacks}: {shortfall:?}");
        assert!((shortfall.value / lacks - 1.0).abs() < 0.15, "{depth} {lacks}: {shortfall:?}");
        assert!(out.told.len() == 1 && out.told[0].text.contains("monobloc 3"), "{:?}", out.told);
    }
}

/// Half of the capacity gone with its acid, half without (shed mass): more than half of it shows, which names it.
#[test]
fn a_shortfall_that_leaves_acid_behind_is_seen_in_part() {
    for depth in [0.4, 0.8] {
        let boat = Boat { depth, held: [1.0, 1.0, 0.88, 1.0], acid: [1.0, 1.0, 0.94, 1.0], ..Boat::new() };
        let (days, out) = boat.days(30);
        let shortfall = weakest(&days).expect("one is weak").shortfall;
        assert!((0.06..0.12).contains(&shortfall.value), "{depth}: {shortfall:?}");
        assert_eq!(out.told.len(), 1);
    }
}

/// Ten years in which one falls behind by 1 % each year: from 5 % on it takes no 60 days, and 2.5 % is not named.
#[test]
fn one_that_falls_behind_is_named_about_when_it_is_five_per_cent_behind() {
    let mut boat = Boat::new();
    let aboard = Aboard { bank: &boat.bank.clone(), branches: &[] };
    let (mut watch, mut out) = (Balance::new(&aboard), Out::default());
    let mut day = 0;
    while out.told.is_empty() {
        let lacks = 0.02 + 0.01 * day as f64 / 365.0;
        boat.held[1] = 1.0 - lacks;
        boat.acid[1] = 1.0 - lacks;
        boat.live(&mut watch, day..day + 5, &mut out);
        day += 5;
        assert!(lacks < 0.05 + 0.01 * 60.0 / 365.0, "not named on day {day}");
    }
    let lacks = 0.02 + 0.01 * day as f64 / 365.0;
    assert!(lacks > 0.033 && out.told[0].text.contains("monobloc 2"), "{lacks}: {:?}", out.told);
}

#[test]
fn a_watch_that_was_saved_goes_on_as_if_nothing_had_been() {
    let boat = Boat { held: [1.0, 0.9, 1.0, 1.0], acid: [1.0, 0.9, 1.0, 1.0], ..Boat::new() };
    let aboard = Aboard { bank: &boat.bank, branches: &[] };
    let (mut whole, mut pieces) = (Balance::new(&aboard), Balance::new(&aboard));
    let (mut at_once, mut by_and_by) = (Out::default(), Out::default());
    for day in 0..20 {
        boat.live(&mut whole, day..day + 1, &mut at_once);
        boat.live(&mut pieces, day..day + 1, &mut by_and_by);
        let saved = serde_json::to_string(&pieces).expect("JSON");
        assert!(saved.len() < 20_000, "{}", saved.len());
        pieces = serde_json::from_str(&saved).expect("the same");
    }
    assert_eq!(at_once, by_and_by);
    assert!(at_once.told.len() == 1 && at_once.told[0].text.contains("monobloc 2"), "{:?}", at_once.told);
    assert_eq!(weakest(&found(&at_once)).map(|weak| weak.monobloc), Some(2));
}
