//! Charging voltages and charge factors against published worked values.

use taffrail::battery::{Chemistry, compensated_voltage};

/// Float of a 12 V flooded battery, 13.4 V at 25 °C, at 30 °C: "-5mV * 6 cells * +5 C change = -150mV; 13.4 … = 13.25V"
/// (encyclopedia text on float voltage, absoluteastronomy.com).
#[test]
fn flooded_float_falls_by_150_millivolts_over_five_kelvin() {
    let per_cell = Chemistry::Flooded.preset().full.compensation_v_per_k;
    assert!((compensated_voltage(13.4, 6.0 * per_cell, 30.0) - 13.25).abs() < 1e-9);
}

/// "2.30 V/cell at 25 °C … should read 2.27 V/cell at 35 °C" (battery-education text, wungiel.pl); 2.33 V at 15 °C.
#[test]
fn sealed_float_falls_by_three_millivolts_per_cell_and_kelvin() {
    let per_cell = Chemistry::Agm.preset().full.compensation_v_per_k;
    assert!((compensated_voltage(2.30, per_cell, 35.0) - 2.27).abs() < 1e-9);
    assert!((compensated_voltage(2.30, per_cell, 15.0) - 2.33).abs() < 1e-9);
}

/// "The charge factor was 1.05-1.15" (Gyenge et al., J. Power Sources 113 (2003) 388): charge put in over charge taken
/// out, for a whole recharge.
#[test]
fn a_whole_recharge_of_lead_needs_the_published_charge_factor() {
    for chemistry in [Chemistry::LeadCarbon, Chemistry::Agm, Chemistry::Gel, Chemistry::Flooded] {
        let efficiency = &chemistry.preset().efficiency;
        let steps = 10_000;
        let factor: f64 =
            (0..steps).map(|i| 1.0 / efficiency.at((f64::from(i) + 0.5) / f64::from(steps)) / f64::from(steps)).sum();
        assert!((1.05..=1.15).contains(&factor), "{chemistry}: {factor}");
    }
}

/// "battery charge efficiency is high (above 95%) at low states of charge and … drops off near full charge" (Stevens &
/// Corey, 25th IEEE PVSC, 1996).
#[test]
fn lead_charges_well_when_low_and_badly_near_full() {
    let efficiency = &Chemistry::Agm.preset().efficiency;
    assert!(efficiency.at(0.2) > 0.95 && efficiency.at(0.98) < efficiency.at(0.2) - 0.1);
}
