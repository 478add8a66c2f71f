//! Peukert's law against worked values.

use taffrail::battery::{Bank, Chemistry, exponent_from_two_ratings, peukert_hours};
use taffrail::reckoning::{Method, Reckoner, Start, endurance};

fn close(got: f64, want: f64, tolerance: f64) {
    assert!((got - want).abs() <= tolerance, "got {got}, want {want}");
}

/// Worked with `t = H (C/(I H))^k`, the law of Peukert, Elektrotechnische Zeitschrift 20 (1897), normalised to the
/// rated hours (encyclopedia form, from memory; numbers worked out from it).
#[test]
fn hours_and_charge_at_a_current_follow_the_rated_hours_form() {
    for (capacity, hours, k, current, t_h, ah) in [
        (100.0, 20.0, 1.2, 5.0, 20.0, 100.0),
        (100.0, 20.0, 1.2, 10.0, 8.7055, 87.06),
        (100.0, 20.0, 1.1, 20.0, 4.3528, 87.06),
        (100.0, 20.0, 1.1, 50.0, 1.588_66, 79.43),
        (100.0, 20.0, 1.1, 100.0, 0.741_134, 74.11),
        (100.0, 20.0, 1.2, 2.5, 45.948, 114.87),
    ] {
        let t = peukert_hours(capacity, hours, k, current);
        close(t, t_h, 1e-4 * t_h);
        close(t * current, ah, 1e-4 * ah);
    }
}

/// The textbook case (encyclopedia worked example "Peukert's law", from memory, reproduced by the formula).
#[test]
fn two_hundred_ampere_hours_at_twenty_amperes_give_174() {
    close(peukert_hours(200.0, 20.0, 1.2, 10.0), 20.0, 1e-9);
    close(peukert_hours(200.0, 20.0, 1.2, 20.0), 8.7, 0.01);
    close(20.0 * peukert_hours(200.0, 20.0, 1.2, 20.0), 174.0, 0.2);
}

/// The wrong form `t = C/I^k` gives 14.5 h for 100 Ah at 5 A and k = 1.2, as a trade page has it
/// (electrotechnik.net/2010/01, "100Ah capacity with a Peukert's constant of 1.2 … for 14.5 hours").
#[test]
fn at_the_rated_current_every_exponent_gives_the_rated_hours() {
    for k in [1.0, 1.05, 1.1, 1.2, 1.3, 1.6] {
        close(peukert_hours(100.0, 20.0, k, 5.0), 20.0, 1e-9);
    }
    assert!((peukert_hours(100.0, 20.0, 1.2, 5.0) - 14.4956).abs() > 5.0);
}

/// `k = ln(H2/H1) / ln(I1/I2)`: algebra of Peukert's law.
#[test]
fn two_ratings_give_the_exponent() {
    close(exponent_from_two_ratings((10.0, 93.5), (20.0, 100.0)), 1.107_37, 1e-5);
    close(exponent_from_two_ratings((5.0, 85.0), (20.0, 100.0)), 1.132_80, 1e-5);
}

/// At falling currents the law's capacity "tends to infinity" (Galushkin et al., J. Electrochem. Soc. 167 (2020)
/// 120516); no bank does.
#[test]
fn a_small_load_gets_the_rated_capacity_and_not_more() {
    let mut bank = Bank::new("b", Chemistry::Flooded, 6, 100.0, 20.0).expect("possible");
    bank.set_peukert_exponent(1.2).expect("in range");
    close(bank.deliverable_when_full_ah(2.5, 25.0), 100.0, 1e-9);
    close(bank.deliverable_when_full_ah(10.0, 25.0), 87.06, 0.01);
}

/// For lithium the classical form is usable from about 0.2 C up (Yazvinskaya et al., Processes 9 (2021) 1753).
#[test]
fn a_house_load_on_lithium_costs_no_capacity() {
    let bank = Bank::new("b", Chemistry::Lfp, 8, 280.0, 20.0).expect("possible");
    close(bank.deliverable_when_full_ah(20.0, 25.0), 280.0, 1e-9);
    assert!(bank.deliverable_when_full_ah(280.0, 25.0) < 280.0);
}

/// Common practice, no source: a bank with 8.9 Ah drawn since full that stands at 92.6 % has a capacity of about
/// 120 Ah, and at 0.3 A it lasts more than 240 h.
#[test]
fn a_nearly_full_bank_lasts_more_than_ten_days_at_a_trickle() {
    close(8.9 / (1.0 - 0.926), 120.0, 0.5);
    let bank = Bank::new("b", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
    let state = Reckoner::begin(Method::Counter, bank.clone(), Start::At(0.926)).report();
    let lasts = endurance(&bank, &state, 0.3);
    assert!(lasts.empty.likely_s > 240.0 * 3600.0, "{}", lasts.empty.likely_s / 3600.0);
    assert!(lasts.empty.low_s > 240.0 * 3600.0, "{}", lasts.empty.low_s / 3600.0);
}
