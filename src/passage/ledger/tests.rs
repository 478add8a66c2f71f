use super::*;
use crate::battery::{Bank, Branch, BranchChannel, Chemistry, Purpose, SensorError};
use crate::quantity::Band;

fn branch(name: &str, role: Role, measured: bool) -> Branch {
    let channel = BranchChannel { device: "branches".to_owned(), channel: format!("{name}_a"), reversed: false };
    Branch {
        name: name.to_owned(),
        title: name.to_owned(),
        bank: "drive".to_owned(),
        role,
        purpose: Purpose::Other,
        channel: measured.then_some(channel),
        sensor: SensorError { gain: 0.01, offset_a: 0.02 },
    }
}

fn bank() -> Bank {
    let mut bank = Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
    bank.sensor = SensorError { gain: 0.005, offset_a: 0.05 };
    bank
}

/// An hour with a steady current, A.
fn hour(current_a: f64) -> Counts {
    Counts { covered_s: 3600.0, charge_in_ah: current_a.max(0.0), charge_out_ah: (-current_a).max(0.0) }
}

/// Three hours: motor 30 A; then nothing; then shore power with 20 A. A load of 0.4 A all along that is on no branch.
fn three_hours<'a>(aboard: &Aboard<'a>) -> LedgerBuilder<'a> {
    let mut ledger = LedgerBuilder::new(aboard);
    for (motor_a, shore_a, voltage_v) in [(-30.0, 0.0, 48.0), (0.0, 0.0, 50.0), (0.0, 20.0, 55.0)] {
        let bank_a: f64 = motor_a + shore_a - 0.4;
        let bank = hour(bank_a);
        ledger.add(&Stretch {
            bank,
            energy_in_wh: bank.charge_in_ah * voltage_v,
            energy_out_wh: bank.charge_out_ah * voltage_v,
            voltage_v: Some(voltage_v),
            branches: &[hour(motor_a), hour(shore_a)],
        });
    }
    ledger
}

fn ends() -> Ends {
    let at = |soc: f64| BandedSoc { soc, band: Band { low: soc - 0.01, high: soc + 0.01 } };
    Ends { begin: at(0.9), end: at(0.8), capacity_ah: Estimate { value: 120.0, std_dev: 2.0 } }
}

#[test]
fn every_ampere_hour_has_its_line() {
    let (bank, branches) = (bank(), [branch("motor", Role::Load, true), branch("shore", Role::Source, true)]);
    let ledger = three_hours(&Aboard { bank: &bank, branches: &branches }).finish(Some(&ends()), Some(3.0 * 3600.0));
    assert!((ledger.bank.charge_out_ah - 30.8).abs() < 1e-9 && (ledger.bank.charge_in_ah - 19.6).abs() < 1e-9);
    assert!((ledger.loads.charge_out_ah - 30.0).abs() < 1e-9 && (ledger.loads.energy_out_wh - 1440.0).abs() < 1e-9);
    assert!((ledger.sources.charge_in_ah - 20.0).abs() < 1e-9 && (ledger.sources.energy_in_wh - 1100.0).abs() < 1e-9);
    let unaccounted = ledger.unaccounted_ah.expect("all are measured");
    assert!((unaccounted.value + 1.2).abs() < 1e-9);
    // By hand: gains 0.5 % of 50.4 Ah, 1 % of 30 and of 20; offsets of three hours 0.15, 0.06 and 0.06 Ah.
    let by_hand = [0.252, 0.3, 0.2, 0.15, 0.06, 0.06].iter().map(|part: &f64| part * part).sum::<f64>().sqrt();
    assert!((unaccounted.std_dev - by_hand).abs() < 1e-9, "{} for {by_hand}", unaccounted.std_dev);
    // 11.2 Ah net came out, the charge fell by 12 Ah: 0.8 Ah went nowhere.
    let loss = ledger.own_loss_ah.expect("both ends are known");
    assert!((loss.value - 0.8).abs() < 1e-9 && loss.std_dev > 0.8, "{loss:?}");
    assert_eq!(ledger.notes, Vec::<String>::new());
}

#[test]
fn the_remainder_closes_the_balance() {
    let (bank, mut branches) = (bank(), vec![branch("motor", Role::Load, true), branch("shore", Role::Source, true)]);
    branches.insert(0, branch("house", Role::Load, false));
    let ledger = three_hours(&Aboard { bank: &bank, branches: &branches }).finish(None, Some(3.0 * 3600.0));
    let house = &ledger.branches[0];
    assert!(house.computed && (house.flow.charge_out_ah - 1.2).abs() < 1e-9 && house.std_dev_ah > 0.3);
    let net: f64 = ledger.branches.iter().map(|line| line.flow.net_ah()).sum();
    assert!((net - ledger.bank.net_ah()).abs() < 1e-9);
    assert_eq!((ledger.unaccounted_ah, ledger.own_loss_ah), (None, None));
}

#[test]
fn a_branch_that_was_not_read_is_said_and_makes_no_wrong_sum() {
    let (bank, branches) = (bank(), [branch("motor", Role::Load, true), branch("shore", Role::Source, true)]);
    let mut ledger = three_hours(&Aboard { bank: &bank, branches: &branches });
    let dark = hour(-40.4);
    let stretch = Stretch {
        bank: dark,
        energy_in_wh: 0.0,
        energy_out_wh: 1900.0,
        voltage_v: Some(47.0),
        branches: &[Counts::default(), hour(0.0)],
    };
    ledger.add(&stretch);
    let made = ledger.finish(Some(&ends()), Some(8.0 * 3600.0));
    assert!((made.unaccounted_ah.expect("three hours of it").value + 1.2).abs() < 1e-9, "not 41.6");
    assert!((made.compared_s - 10_800.0).abs() < 1e-9);
    assert_eq!(made.own_loss_ah, None, "nobody saw four hours");
    assert_eq!(
        made.notes,
        [
            "The bank was not read for 4.0 h; what flowed then is in no sum.",
            "motor was not read for 60 min of 4.0 h.",
            "What the branches leave is known for the 3.0 h of 4.0 h in which all were read."
        ]
    );
}

#[test]
fn a_span_without_data_says_so() {
    let (bank, branches) = (bank(), [branch("motor", Role::Load, true)]);
    let made = LedgerBuilder::new(&Aboard { bank: &bank, branches: &branches }).finish(Some(&ends()), None);
    assert_eq!((made.unaccounted_ah, made.own_loss_ah, made.unseen_s), (None, None, None));
    assert_eq!(made.notes, ["Nothing of the bank was read in this span."]);
}
