//! The kinetic battery model against published numbers.

use taffrail::battery::TwoWell;

/// The public code's fit has c and k only inside; these were worked out from its capacities (see below).
const FITTED: TwoWell = TwoWell { c: 0.475_11, k_per_h: 0.677 };
/// What its wells hold, Ah: read in the same code's tests as 108.16 and 108.15.
const FITTED_MAX_AH: f64 = 108.16;

fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "got {got}, want {want}");
}

/// The source's equations before they are solved: `q1' = -I - k (1 - c) q1 + k c q2`, `q2' = k (1 - c) q1 - k c q2`
/// (Manwell & McGowan, Solar Energy 50 (1993) 399), stepped by Runge and Kutta's fourth-order rule.
fn stepped(wells: TwoWell, mut at: (f64, f64), current_a: f64, hours: f64) -> (f64, f64) {
    const STEPS: u32 = 2000;
    let h = hours / f64::from(STEPS);
    let rise = |(q1, q2): (f64, f64)| {
        let flow = wells.k_per_h * (wells.c * q2 - (1.0 - wells.c) * q1);
        (flow - current_a, -flow)
    };
    for _ in 0..STEPS {
        let moved = |d: (f64, f64), part: f64| (at.0 + d.0 * part, at.1 + d.1 * part);
        let first = rise(at);
        let second = rise(moved(first, h / 2.0));
        let third = rise(moved(second, h / 2.0));
        let fourth = rise(moved(third, h));
        at.0 += h / 6.0 * (first.0 + 2.0 * second.0 + 2.0 * third.0 + fourth.0);
        at.1 += h / 6.0 * (first.1 + 2.0 * second.1 + 2.0 * third.1 + fourth.1);
    }
    at
}

/// Solved and stepped agree to the stepping's error, also for charging and where the available well runs below 0.
#[test]
fn the_closed_form_solves_the_equations() {
    for wells in [FITTED, TwoWell { c: 0.166, k_per_h: 7.32 }, TwoWell { c: 0.9, k_per_h: 0.2 }] {
        for current_a in [-30.0, 0.0, 12.0, 80.0] {
            let (available, bound) = wells.after(30.0, 45.0, current_a, 1.7);
            let (available_stepped, bound_stepped) = stepped(wells, (30.0, 45.0), current_a, 1.7);
            close(available, available_stepped, 1e-9);
            close(bound, bound_stepped, 1e-9);
        }
    }
}

/// `q_max(T)`, the other closed form of that paper, is the charge that empties the available well of a full bank.
#[test]
fn what_a_full_bank_gives_in_a_time_empties_the_available_well_in_that_time() {
    for hours in [0.5, 1.0, 5.0, 20.0, 100.0] {
        let current_a = FITTED_MAX_AH * FITTED.given_ratio(hours) / hours;
        let (full, bound) = (FITTED.c * FITTED_MAX_AH, (1.0 - FITTED.c) * FITTED_MAX_AH);
        close(FITTED.after(full, bound, current_a, hours).0, 0.0, 1e-9);
    }
}

/// Capacities of a bank of 100, 93 and 60 Ah at 20, 10 and 1 h as fitted in NREL's ssc, tests of lib_battery_capacity
/// (108.16 Ah in all, 25.694 Ah in the available well at half charge); c, k and the capacities at other hours worked out
/// from these. They are given to five and three digits, which leaves 0.01 Ah.
#[test]
fn the_published_wells_give_the_published_capacities() {
    for (hours, ah) in [(1.0, 60.00), (2.0, 67.38), (5.0, 82.23), (10.0, 93.00), (20.0, 100.00), (100.0, 106.42)] {
        close(FITTED_MAX_AH * FITTED.given_ratio(hours), ah, 0.01);
    }
    close(FITTED_MAX_AH * FITTED.whole(20.0).recip(), 100.0, 0.01);
    close(FITTED_MAX_AH * 0.5 * FITTED.c, 25.694, 0.001);
}

/// The same table fitted here. The fit is drawn a little towards a middling rate constant, which the source's is not; the
/// measured difference is under 0.003 Ah at every rate, below the last digit of the source.
#[test]
fn a_fit_to_the_published_table_finds_the_published_wells() {
    let found = TwoWell::fit(&[(20.0, 100.0), (10.0, 93.0), (1.0, 60.0)], (20.0, 100.0));
    let whole_ah = 100.0 * found.whole(20.0);
    for (hours, ah) in [(1.0, 60.00), (2.0, 67.38), (5.0, 82.23), (10.0, 93.00), (100.0, 106.42)] {
        close(whole_ah * found.given_ratio(hours), ah, 0.01);
    }
    close(whole_ah, FITTED_MAX_AH, 0.01);
    close(whole_ah * 0.5 * found.c, 25.694, 0.002);
}

/// Steps of an hour one after the other from half charge (same tests in ssc): the current is cut to what empties the
/// available well by the hour's end. Printed there to four digits.
#[test]
fn hourly_steps_end_where_the_published_ones_do() {
    let mut held = (0.5 * FITTED.c * FITTED_MAX_AH, 0.5 * (1.0 - FITTED.c) * FITTED_MAX_AH);
    for (asked_a, given_a, left_ah, left_percent) in
        [(1.5, 1.5, 52.58, 48.61), (3.0, 3.0, 49.58, 45.84), (490.0, 26.65, 22.93, 21.2), (490.0, 6.25, 16.67, 15.41)]
    {
        // The available well falls in a straight line with the current.
        let idle = FITTED.after(held.0, held.1, 0.0, 1.0).0;
        let for_each_ampere = idle - FITTED.after(held.0, held.1, 1.0, 1.0).0;
        let current_a = f64::min(asked_a, idle / for_each_ampere);
        close(current_a, given_a, 0.01);
        held = FITTED.after(held.0, held.1, current_a, 1.0);
        close(held.0 + held.1, left_ah, 0.01);
        close(100.0 * (held.0 + held.1) / FITTED_MAX_AH, left_percent, 0.02);
    }
}

/// Time until the available well of a full bank is empty under jobs (current, hours), over and over.
fn lifetime_h(wells: TwoWell, capacity_ah: f64, jobs: &[(f64, f64)]) -> f64 {
    let mut held = (wells.c * capacity_ah, (1.0 - wells.c) * capacity_ah);
    let mut elapsed_h = 0.0;
    for &(current_a, hours) in jobs.iter().cycle() {
        let next = wells.after(held.0, held.1, current_a, hours);
        if next.0 <= 0.0 {
            let (mut alive_h, mut empty_h) = (0.0, hours);
            for _ in 0..60 {
                let middle_h = f64::midpoint(alive_h, empty_h);
                let alive = wells.after(held.0, held.1, current_a, middle_h).0 > 0.0;
                *(if alive { &mut alive_h } else { &mut empty_h }) = middle_h;
            }
            return elapsed_h + alive_h;
        }
        held = next;
        elapsed_h += hours;
    }
    unreachable!("jobs go round for ever")
}

/// Eight lifetimes (Jongerden, Haverkort et al., "Maximizing system lifetime by battery scheduling", DSN 2009; IET
/// Software 3 (2009) 445): 5.5 A min, c = 0.166, k' = 0.122 /min, jobs of a minute, idle for none, one or two. From
/// memory; each agrees with the closed form worked out elsewhere to 0.005 min, half its last digit.
#[test]
fn eight_published_lifetimes_are_met() {
    let wells = TwoWell { c: 0.166, k_per_h: 0.122 * 60.0 };
    let minute = 1.0 / 60.0;
    let (low, high) = ((0.25, minute), (0.5, minute));
    let (short, long) = ((0.0, minute), (0.0, 2.0 * minute));
    let published: [(&[(f64, f64)], f64); 8] = [
        (&[low], 4.53),
        (&[high], 2.02),
        (&[high, low], 2.58),
        (&[low, short], 10.80),
        (&[high, short], 4.30),
        (&[high, short, low, short], 4.80),
        (&[low, long], 21.86),
        (&[high, long], 6.53),
    ];
    for (jobs, minutes) in published {
        close(60.0 * lifetime_h(wells, 5.5 / 60.0, jobs), minutes, 0.006);
    }
}

/// Cloth, Jongerden & Haverkort, DSN 2007, pp. 780-789: 7200 A s, 0.96 A, c = 0.625, k = 4.5e-5 /s last 91 min, and 203 min
/// when the load is on half of the time, at 1 Hz and at 0.2 Hz alike (from memory, and worked out). Printed in whole minutes.
/// Their k is not the rate constant here: that is k' = k / (c (1 - c)), and with k in its place the bank is empty 10 min
/// too early.
#[test]
fn a_square_wave_gets_more_out_and_the_other_papers_rate_constant_is_another() {
    const C: f64 = 0.625;
    const K_PER_S: f64 = 4.5e-5;
    let wells = TwoWell { c: C, k_per_h: 3600.0 * K_PER_S / (C * (1.0 - C)) };
    let minutes = |wells: TwoWell, jobs: &[(f64, f64)]| 60.0 * lifetime_h(wells, 2.0, jobs);
    let steady: [(f64, f64); 1] = [(0.96, 1.0)];
    close(minutes(wells, &steady), 91.0, 0.5);
    for hertz in [1.0, 0.2] {
        let half_h = 0.5 / hertz / 3600.0;
        close(minutes(wells, &[(0.96, half_h), (0.0, half_h)]), 203.0, 0.5);
    }
    let mixed_up = TwoWell { c: C, k_per_h: 3600.0 * K_PER_S };
    close(minutes(mixed_up, &steady), 81.0, 0.5);
}
