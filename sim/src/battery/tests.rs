use super::constants::HOUR_S;
use super::*;
use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;

fn drive() -> Bank<LeadBlock> {
    drive_bank(&mut Xoshiro256PlusPlus::seed_from_u64(1), 25.0)
}

fn house() -> Bank<LithiumCell> {
    house_bank(&mut Xoshiro256PlusPlus::seed_from_u64(1), 25.0)
}

/// Steps a bank in air of 25 °C; returns the charge that flowed, Ah.
fn run<M: Monobloc>(bank: &mut Bank<M>, hours: f64, dt_s: f64, request: Request) -> f64 {
    let mut moved_ah = 0.0;
    let mut left_s = hours * HOUR_S;
    while left_s > 0.5 * dt_s {
        moved_ah += bank.step(dt_s, request, 25.0) * dt_s / HOUR_S;
        left_s -= dt_s;
    }
    moved_ah
}

fn charge_to(current_a: f64, max_charge_v: f64) -> Request {
    Request { current_a, floor_a: 0.0, max_charge_v, min_discharge_v: 0.0 }
}

/// The integral of current, less side reactions, against the change of charge held, over a varied day.
fn charge_gap_ah<M: Monobloc>(bank: &mut Bank<M>, dt_s: f64, max_charge_v: f64) -> f64 {
    let (discharged, side) = (bank.discharged_ah(), bank.side_ah());
    let mut moved_ah = 0.0;
    for (hours, current_a) in [(0.5, -80.0), (2.0, 0.0), (3.0, -10.0), (6.0, 30.0), (1.0, -1.0), (8.0, 25.0)] {
        moved_ah += run(
            bank,
            hours,
            dt_s,
            Request { current_a, floor_a: current_a.min(0.0), max_charge_v, min_discharge_v: 0.0 },
        );
    }
    let held_ah = discharged - bank.discharged_ah();
    moved_ah - (bank.side_ah() - side) - held_ah
}

#[test]
fn charge_is_conserved_less_side_reactions() {
    for dt_s in [1.0, 10.0] {
        let lead = charge_gap_ah(&mut drive(), dt_s, 57.6);
        let lithium = charge_gap_ah(&mut house(), dt_s, 28.0);
        assert!(lead.abs() < 1e-6 && lithium.abs() < 1e-6, "{dt_s} s: {lead} Ah, {lithium} Ah");
    }
}

#[test]
fn one_second_and_ten_second_steps_agree() {
    let after = |dt_s| {
        let mut bank = drive();
        run(&mut bank, 0.6, dt_s, Request::current(-80.0));
        run(&mut bank, 1.0, dt_s, Request::current(0.0));
        run(&mut bank, 5.0, dt_s, charge_to(24.0, 57.6));
        (bank.true_soc(), bank.voltage_v(), bank.temperature_c())
    };
    let (one, ten) = (after(1.0), after(10.0));
    assert!(
        (one.0 - ten.0).abs() < 0.002 && (one.1 - ten.1).abs() < 0.05 && (one.2 - ten.2).abs() < 0.1,
        "{one:?} {ten:?}"
    );
}

#[test]
fn capacity_falls_with_rate_and_lies_in_the_band_of_lead() {
    let bank = drive();
    let capacity_ah = |current_a: f64| bank.deliverable_ah(current_a, 25.0);
    let falling: Vec<f64> = [1.2, 6.0, 11.5, 22.0, 34.0, 60.0, 84.0, 120.0].map(capacity_ah).to_vec();
    assert!(falling.windows(2).all(|pair| pair[1] < pair[0]), "{falling:?}");
    assert!((bank.true_capacity_ah() / 120.0 - 1.0).abs() < 0.03, "{}", bank.true_capacity_ah());
    // The current that empties it in an hour, by repeated approach.
    let mut current_a = 80.0;
    for _ in 0..12 {
        current_a = 0.5 * (current_a + capacity_ah(current_a));
    }
    let ratio = capacity_ah(current_a) / bank.true_capacity_ah();
    println!("lead: 20 h {:.1} Ah, 1 h ratio {ratio:.3}, by rate {falling:.1?}", bank.true_capacity_ah());
    assert!((0.60..0.85).contains(&ratio), "{ratio}");
}

#[test]
fn after_a_hard_run_voltage_recovers_and_a_gentle_load_draws_much_more() {
    let mut bank = drive();
    let hard_ah = bank.drain_ah(96.0, 25.0);
    let at_cut_off_v = bank.voltage_v();
    run(&mut bank, 0.5, 1.0, Request::current(0.0));
    let half_hour_v = bank.voltage_v();
    run(&mut bank, 5.5, 1.0, Request::current(0.0));
    let six_hours_v = bank.voltage_v();
    let more_ah = bank.drain_ah(12.0, 25.0);
    println!(
        "hard {hard_ah:.1} Ah to {at_cut_off_v:.2} V, {half_hour_v:.2} V after 0.5 h, {six_hours_v:.3} V after 6 h, then {more_ah:.1} Ah at C/10"
    );
    assert!(half_hour_v > at_cut_off_v + 4.0 && six_hours_v > half_hour_v + 0.05);
    assert!(more_ah > 0.8 * (bank.true_capacity_ah() * 0.93 - hard_ah), "what the hard run left is still there");
}

#[test]
fn rest_voltage_of_a_lead_block_falls_with_charge_from_about_12_8_v() {
    let mut bank = drive();
    let mut rest_v = Vec::new();
    for _ in 0..10 {
        run(&mut bank, 12.0, 10.0, Request::current(0.0));
        rest_v.push(bank.monobloc_voltages_v().sum::<f64>() / 4.0);
        run(&mut bank, 2.0, 10.0, Request::current(-6.0));
    }
    println!("rest voltage of a block, each tenth: {rest_v:.3?}");
    assert!((12.6..13.1).contains(&rest_v[0]), "{rest_v:?}");
    assert!(rest_v.windows(2).all(|pair| pair[1] < pair[0] - 0.05), "{rest_v:?}");
}

#[test]
fn cold_lowers_what_both_banks_deliver() {
    fn falling<M: Monobloc>(bank: &Bank<M>, current_a: f64) -> Vec<f64> {
        let delivered: Vec<f64> =
            [30.0, 20.0, 10.0, 0.0].map(|celsius| bank.deliverable_ah(current_a, celsius)).to_vec();
        assert!(delivered.windows(2).all(|pair| pair[1] < pair[0]), "{delivered:?}");
        delivered
    }
    println!(
        "30, 20, 10, 0 °C: lead C/20 {:.1?}, lead 0.5 C {:.1?}, lithium 0.5 C {:.1?}",
        falling(&drive(), 6.0),
        falling(&drive(), 60.0),
        falling(&house(), 140.0)
    );
}

#[test]
fn coulombic_efficiency_of_lead_falls_towards_full() {
    let mut bank = drive();
    run(&mut bank, 12.0, 10.0, Request::current(-6.0));
    // Each slice of the charge: what was kept of what went in.
    let mut slices = Vec::new();
    while bank.true_soc() < 0.995 {
        let (held, side) = (bank.discharged_ah(), bank.side_ah());
        run(&mut bank, 0.5, 10.0, charge_to(24.0, 57.6));
        let kept = held - bank.discharged_ah();
        slices.push((bank.true_soc(), kept / (kept + bank.side_ah() - side)));
    }
    println!("efficiency by slice: {slices:.3?}");
    let (first, last) = (slices[0].1, slices[slices.len() - 1].1);
    assert!(first > 0.98 && last < 0.8, "{slices:?}");
    let tail: Vec<f64> = slices.iter().filter(|(soc, _)| *soc > 0.8).map(|(_, efficiency)| *efficiency).collect();
    assert!(tail.windows(2).all(|pair| pair[1] < pair[0]), "{tail:?}");
}

#[test]
fn coulombic_efficiency_over_a_cycle_is_that_of_the_chemistry() {
    // The second of two cycles, so that both begin and end equally full.
    fn ratio<M: Monobloc>(bank: &mut Bank<M>, load_a: f64, charge: Request, hours: f64) -> f64 {
        let mut cycle = || {
            let out_ah = -run(bank, 10.0, 10.0, Request::current(-load_a));
            out_ah / run(bank, hours, 10.0, charge)
        };
        cycle();
        cycle()
    }
    let lead = ratio(&mut drive(), 6.0, charge_to(24.0, 57.6), 12.0);
    // Lithium is not held at its limit: there only the balancing resistors draw.
    let lithium = ratio(&mut house(), 14.0, charge_to(50.0, 28.0), 3.5);
    println!("lead {lead:.3}, lithium {lithium:.4}");
    assert!((0.85..0.98).contains(&lead), "{lead}");
    assert!((0.985..1.0).contains(&lithium), "{lithium}");
}

#[test]
fn lithium_rests_higher_after_charge_than_after_discharge() {
    let rest_v = |bank: &mut Bank<LithiumCell>| {
        run(bank, 12.0, 10.0, Request::current(0.0));
        bank.voltage_v() / 8.0
    };
    let mut bank = house();
    run(&mut bank, 10.0, 10.0, Request::current(-13.9));
    let discharged = (bank.true_soc(), rest_v(&mut bank));
    run(&mut bank, 6.0, 10.0, Request::current(-13.9));
    let missing_ah = bank.discharged_ah() - (1.0 - discharged.0) * bank.true_capacity_ah();
    run(&mut bank, missing_ah / 28.0, 10.0, Request::current(28.0));
    let charged = (bank.true_soc(), rest_v(&mut bank));
    println!("rest at half: {discharged:.4?} after discharge, {charged:.4?} after charge");
    assert!((charged.0 - discharged.0).abs() < 0.005);
    assert!((0.005..0.040).contains(&(charged.1 - discharged.1)));
}

#[test]
fn lithium_plateau_at_rest_rises_less_than_three_millivolts_for_each_percent() {
    let mut bank = house();
    run(&mut bank, 8.0, 10.0, Request::current(-14.0));
    let mut rest = Vec::new();
    for _ in 0..5 {
        run(&mut bank, 6.0, 10.0, Request::current(0.0));
        rest.push((bank.true_soc(), bank.voltage_v() / 8.0));
        run(&mut bank, 1.0, 10.0, Request::current(-14.0));
    }
    for pair in rest.windows(2) {
        let slope_v_per_percent = (pair[0].1 - pair[1].1) / (100.0 * (pair[0].0 - pair[1].0));
        assert!((0.0..0.003).contains(&slope_v_per_percent), "{rest:?}");
    }
}

/// A week's use, again and again in steps of a minute, with the ageing that goes with it; yearly fade in percent of the first capacity.
fn yearly_fade<M: Monobloc>(bank: &mut Bank<M>, load_a: f64, charge: Request, years: u32) -> Vec<f64> {
    let new_ah = bank.true_capacity_ah();
    let mut left = vec![new_ah];
    for _ in 0..years {
        for _ in 0..52 {
            for _ in 0..4 {
                run(bank, 6.0, 60.0, Request { min_discharge_v: 0.0, ..Request::current(-load_a) });
                run(bank, 18.0, 60.0, charge);
            }
            run(bank, 72.0, 60.0, Request::current(-0.2));
            assert!(bank.voltage_v().is_finite() && bank.temperature_c() < 60.0);
        }
        left.push(bank.true_capacity_ah());
    }
    left.windows(2).map(|pair| 100.0 * (pair[0] - pair[1]) / new_ah).collect()
}

#[test]
fn years_of_ordinary_use_lower_capacity_by_some_percent_a_year_and_raise_resistance() {
    let mut lead = drive();
    let lead_fade = yearly_fade(&mut lead, 9.0, charge_to(24.0, 57.6), 3);
    let mut lithium = house();
    let lithium_fade = yearly_fade(&mut lithium, 20.0, charge_to(40.0, 28.0), 3);
    println!("fade in percent a year: lead {lead_fade:.2?}, lithium {lithium_fade:.2?}");
    for fade in lead_fade.iter().chain(&lithium_fade) {
        assert!((1.0..8.0).contains(fade));
    }
    assert!(lead.ageing().resistance_factor() > 1.05 && lithium.ageing().resistance_factor() > 1.02);
    assert!(lead.ageing().cycles() > 150.0);
}

#[test]
fn sources_throttle_at_their_limit_and_loads_are_cut_at_theirs() {
    let mut bank = drive();
    run(&mut bank, 5.0, 10.0, Request::current(-12.0));
    run(&mut bank, 4.0, 10.0, charge_to(30.0, 57.6));
    assert!((bank.voltage_v() - 57.6).abs() < 1e-3 && bank.current_a() < 30.0, "{}", bank.voltage_v());
    // A float limit below the bank's own voltage throttles to the loads and no further.
    let flowed_a =
        bank.step(1.0, Request { current_a: 20.0, floor_a: -4.0, max_charge_v: 48.0, min_discharge_v: 43.2 }, 25.0);
    assert!((flowed_a + 4.0).abs() < 1e-9, "{flowed_a}");
    run(&mut bank, 2.0, 10.0, Request { current_a: -96.0, floor_a: -96.0, max_charge_v: 57.6, min_discharge_v: 43.2 });
    assert!(
        bank.current_a() > -60.0 && (bank.voltage_v() - 43.2).abs() < 0.01,
        "{} A at {} V",
        bank.current_a(),
        bank.voltage_v()
    );
}

#[test]
fn monoblocs_differ_and_add_up_to_the_bank() {
    let mut bank = drive();
    run(&mut bank, 3.0, 10.0, Request::current(-24.0));
    let blocks_v: Vec<f64> = bank.monobloc_voltages_v().collect();
    let spread_v = blocks_v.iter().fold(f64::MIN, |a, b| a.max(*b)) - blocks_v.iter().fold(f64::MAX, |a, b| a.min(*b));
    assert!((0.002..0.5).contains(&spread_v), "{blocks_v:?}");
    assert!((blocks_v.iter().sum::<f64>() - bank.voltage_v()).abs() < 1e-9);
}
