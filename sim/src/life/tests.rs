use super::*;
use crate::battery::Request;

const BOTH: Rhythm = Rhythm { main_s: 10, branches_s: 10 };

/// Lives so many days from the first of them; gives the hours' reports and what is true at the end of each hour.
fn live(life: &mut Life, days: i64, mut look: impl FnMut(&Hour, Now, &Life)) {
    let mut hour = Hour::default();
    for _ in 0..days * 24 {
        assert!(life.live_hour(&mut hour));
        look(&hour, life.now(), life);
    }
}

impl Life {
    /// Goes to a midnight without living what lies before it: the bank is full there and as old as it is to be.
    fn skip_to(&mut self, t_s: i64) {
        self.t_s = t_s - t_s.rem_euclid(DAY_S);
        self.segment = self.plan.segments.iter().rposition(|segment| segment.begin_s <= self.t_s).unwrap_or(0);
        self.switches = step::Switches::new(self.t_s);
        self.tests.clear();
        self.clockwork.tell(self.circuit.bank_mut(), &self.script, self.t_s);
        self.circuit.bank_mut().fill();
        self.propulsion.order(self.t_s, self.plan.segments[self.segment].drive, &mut self.rng);
    }
}

/// A life brought to a day of its decade without living what lies before it: the bank is full, and as old as it is to be.
fn at_day(seed: u64, rhythm: Rhythm, day: i64) -> Life {
    let mut life = Life::new(seed, rhythm);
    life.skip_to(day * DAY_S);
    life
}

#[test]
fn equal_seeds_live_equal_lives() {
    let lived = |seed| {
        let mut bits = Vec::new();
        live(&mut at_day(seed, BOTH, 40), 4, |hour, _, _| {
            bits.extend(hour.main.iter().flatten().map(|value| value.to_bits()));
            bits.extend(hour.branches.iter().flatten().map(|value| value.to_bits()));
        });
        bits
    };
    let first = lived(11);
    assert_eq!(first.len(), 4 * 8640 * (MAIN.len() + BRANCHES.len()));
    assert_eq!(first, lived(11));
    assert_ne!(first, lived(12));
}

#[test]
fn reports_at_one_and_at_ten_seconds_tell_of_one_life() {
    let lived = |main_s| {
        let (mut at, mut end) = (Vec::new(), None);
        live(&mut at_day(5, Rhythm { main_s, branches_s: 10 }, 60), 5, |hour, now, _| {
            at.extend(hour.main_s.iter().zip(&hour.main).filter(|(t_s, _)| *t_s % 10 == 0).map(|(_, values)| *values));
            end = Some(now);
        });
        (at, end)
    };
    let ((fine, fine_end), (coarse, coarse_end)) = (lived(1), lived(10));
    // The truth is one and the same; reports differ by noise, and under the motor by the sea as well.
    assert_eq!(fine_end, coarse_end);
    assert_eq!(fine.len(), coarse.len());
    let far = |limit_v: f64, limit_a: f64| {
        let apart = |(a, b): &(&[f64; 7], &[f64; 7])| (a[0] - b[0]).abs() > limit_v || (a[1] - b[1]).abs() > limit_a;
        fine.iter().zip(&coarse).filter(apart).count() as f64 / fine.len() as f64
    };
    assert!(far(0.013, 0.13) < 0.08 && far(0.6, 20.0) < 0.001, "{} {}", far(0.013, 0.13), far(0.6, 20.0));
}

#[test]
fn longer_inner_steps_at_rest_change_little() {
    // Two days as they are lived at anchor, once in steps of a second and once as the ladder takes them.
    let after = |length_s: f64| {
        let mut bank = at_day(2, BOTH, 50).bank().clone();
        for (hours, current_a) in [(1.0, -45.0), (12.0, -1.2), (0.4, -17.0), (9.0, -1.5), (2.0, 30.0), (10.0, -0.4)] {
            let mut left_s: f64 = hours * 3600.0;
            while left_s > 0.5 {
                let dt_s = length_s.min(left_s);
                bank.step(dt_s, Request::current(current_a), 20.0);
                left_s -= dt_s;
            }
        }
        (bank.voltage_v(), bank.discharged_ah(), bank.temperature_c())
    };
    let (second, minute) = (after(1.0), after(60.0));
    println!("1 s {second:?}, 60 s {minute:?}");
    assert!((second.0 - minute.0).abs() < 0.005 && (second.1 - minute.1).abs() < 0.02, "{second:?} {minute:?}");
    assert!((second.2 - minute.2).abs() < 0.1, "{second:?} {minute:?}");
}

#[test]
fn a_copy_that_is_discharged_gives_the_capacity_that_is_laid_down() {
    let mut life = Life::new(7, BOTH);
    let weak = life.script().weak;
    let days = [0, 400, 1700, weak.behind_s / DAY_S, 3000, 3640];
    for day in days {
        life.skip_to(day * DAY_S);
        let (bank, now) = (life.bank(), life.now());
        let measured_ah = bank.deliverable_ah(RATED_AH / 20.0, 25.0);
        let own_ah: Vec<f64> = bank
            .monoblocs()
            .iter()
            .map(|block| ageing::own_capacity_ah(block, bank.ageing().capacity_factor()))
            .collect();
        let others = (own_ah.iter().sum::<f64>() - own_ah[weak.index]) / 3.0;
        let behind = 1.0 - own_ah[weak.index] / others;
        println!("day {day}: {measured_ah:.2} Ah of {:.2}, behind {behind:.4} of {:.4}", now.capacity_ah, now.behind);
        assert!((measured_ah / now.capacity_ah - 1.0).abs() < 0.002, "day {day}: {measured_ah} Ah, {now:?}");
        assert!((behind - now.behind).abs() < 0.003, "day {day}: {behind}, {now:?}");
    }
    assert!((life.behind(weak.behind_s) - BEHIND).abs() < 1e-12);
}

#[test]
fn the_bank_is_at_the_end_of_its_life_in_the_tenth_year() {
    for seed in 0..6 {
        let life = Life::new(seed, BOTH);
        let end_s = life.end_of_life_s().expect("within the decade") as f64;
        assert!((8.7..9.95).contains(&(end_s / YEAR_S)), "{seed}: {}", end_s / YEAR_S);
    }
}

#[test]
fn branches_and_the_unknown_load_add_up_to_the_current_of_the_bank() {
    let mut life = Life::new(9, BOTH);
    let stretch = life.script().unaccounted.stretch;
    life.skip_to(stretch.begin_s - stretch.begin_s % DAY_S - 3 * DAY_S);
    let (mut before, mut within) = ((0.0, 0), (0.0, 0));
    live(&mut life, 10, |hour, _, life| {
        for ((t_s, main), branches) in hour.main_s.iter().zip(&hour.main).zip(&hour.branches) {
            // Less what the main sensor is known to be off by: gain, first offset, its change.
            let current_a = (main[1] - 0.030) / 1.003 - life.script().offset_change_a(*t_s);
            let rest_a = current_a - branches[..report::METERED].iter().sum::<f64>();
            let sum = if stretch.holds(*t_s) { &mut within } else { &mut before };
            *sum = (sum.0 + rest_a, sum.1 + 1);
        }
    });
    let mean = |(sum, count): (f64, i32)| sum / f64::from(count);
    // Seven offsets of 20 mA (1 sigma) and some gain stay in both; between them lies the load.
    assert!(mean(before).abs() < 0.2, "{}", mean(before));
    assert!((mean(within) - mean(before) + 0.4).abs() < 0.05, "{} {}", mean(before), mean(within));
}

#[test]
fn a_season_has_shore_nights_that_fill_and_a_switching_shows_within_a_second() {
    let rhythm = Rhythm { main_s: 1, branches_s: 10 };
    let (mut filled, mut lowest, mut steepest) = (0, 1.0_f64, Vec::new());
    let mut was_full = true;
    live(&mut at_day(1, rhythm, 30), 40, |hour, now, life| {
        lowest = lowest.min(now.soc);
        let full = now.soc > 0.99;
        filled += i32::from(full && !was_full);
        was_full = full;
        assert!((-0.01..1.001).contains(&now.soc) && (5.0..45.0).contains(&now.temperature_c), "{now:?}");
        assert!((42.0..59.5).contains(&now.voltage_v), "{now:?}");
        if life.plan().segments[life.segment].place == Place::UnderWay {
            let draws = |pair: &&[[f64; 7]]| pair[1][1] < 0.0 && pair[0][1] < 0.0;
            let pairs = hour.main.windows(2).filter(draws).filter(|pair| (pair[1][1] - pair[0][1]).abs() > 15.0);
            steepest.extend(pairs.map(|pair| (pair[1][0] - pair[0][0]) / (pair[1][1] - pair[0][1])));
        }
    });
    assert!(filled >= 3 && lowest < 0.5, "{filled} {lowest}");
    // Steps within a second cost the resistance of a new bank of that make, some tens of milliohms; more where it is nearly empty.
    steepest.sort_by(f64::total_cmp);
    let at = |part: usize| steepest[steepest.len() * part / 100];
    println!("{} steps: {:.4} {:.4} {:.4} ohm", steepest.len(), at(5), at(50), at(95));
    assert!(steepest.len() > 50 && at(5) > 0.02 && at(95) < 0.15, "{steepest:?}");
}

#[test]
fn the_yearly_test_draws_a_steady_load_to_its_cut_off_from_full() {
    let begins_s = Life::new(4, BOTH).plan().tests_s().next().expect("ten tests");
    let mut life = at_day(4, BOTH, begins_s / DAY_S - 1);
    let mut loads = Vec::new();
    live(&mut life, 4, |hour, _, life| {
        if life.tests().first().is_some_and(|test| test.end_s.is_none()) {
            loads.extend(hour.main.iter().map(|values| values[1]));
        }
    });
    let test = life.tests()[0];
    let hours = (test.end_s.expect("it has ended") - test.begin_s) as f64 / 3600.0;
    let charge_ah = hours * test.load_a;
    println!("{test:?}: {hours:.2} h, {charge_ah:.1} Ah");
    assert!(
        (0.97..1.02).contains(&(charge_ah / life.capacity_ah(begins_s))),
        "at the rated current, in September: {charge_ah}"
    );
    let steady = loads[1..].iter().filter(|current_a| (*current_a + test.load_a).abs() < 0.15).count();
    assert!(steady as f64 > 0.99 * (loads.len() - 1) as f64);
    assert!(life.now().soc > 0.98, "it is charged again: {:?}", life.now());
}

#[test]
fn resistance_that_a_step_shows_grows_with_the_fade() {
    let life = Life::new(3, BOTH);
    let ohm = [0, 5, 9].map(|year| life.step_ohm(year_begin_s(year)));
    println!("{ohm:.4?}");
    assert!(ohm[1] > 1.04 * ohm[0] && ohm[2] > 1.15 * ohm[0] && ohm[2] < 1.6 * ohm[0], "{ohm:?}");
}
