//! A motor that is given all it takes for some seconds drops a worn bank below its cut-off long before the bank is empty.

use sim::battery::{Ageing, Bank, BankSpec, LeadBlock, Request, ThermalMass};
use taffrail::battery::Chemistry;
use taffrail::quantity::Reading;
use taffrail::reckoning::{FixKind, Method, Reckoner, Start};

use super::say;

const CUT_OFF_V: f64 = 42.0;
const STEADY_A: f64 = -6.0;
const BURST_A: f64 = -110.0;
const BURST_S: u32 = 20;

/// A bank under way with the reckoner that watches it.
struct Boat {
    bank: Bank<LeadBlock>,
    reckoner: Reckoner,
    t_s: f64,
    /// True state of charge at each empty fix.
    emptied: Vec<f64>,
}

impl Boat {
    /// A worn bank, full: 85 % of its rating, and twice its resistance when new.
    fn worn() -> Boat {
        let spec = BankSpec { rated_capacity_ah: 120.0, empty_v: CUT_OFF_V, monobloc_max_v: 15.6, monobloc_min_v: 6.0 };
        let blocks = vec![LeadBlock::new(6, 120.0, 1.0, 1.0, 1.0); 4];
        let bank = Bank::new(spec, blocks, ThermalMass::new(15.0, 126e3, 7.0), Ageing::scripted(0.85, 2.0));
        let described =
            taffrail::battery::Bank::new("drive", Chemistry::LeadCarbon, 24, 120.0, 20.0).expect("possible");
        let reckoner = Reckoner::begin(Method::Filter, described, Start::Full);
        Boat { bank, reckoner, t_s: 0.0, emptied: Vec::new() }
    }

    /// A second at a load; the voltage at its end.
    fn second(&mut self, current_a: f64) -> f64 {
        let current_a = self.bank.step(1.0, Request::current(current_a), 15.0);
        self.t_s += 1.0;
        let voltage_v = self.bank.voltage_v();
        let temperature_c = Some(self.bank.temperature_c());
        let fix = self.reckoner.step(&Reading { t_s: self.t_s, voltage_v, current_a, temperature_c });
        if fix.is_some_and(|fix| fix.kind == FixKind::Empty) {
            self.emptied.push(self.bank.true_soc());
        }
        voltage_v
    }
}

#[test]
fn a_burst_of_the_motor_is_no_empty_bank() {
    let mut boat = Boat::worn();
    let mut dropped = 0;
    while boat.bank.true_soc() > 0.3 {
        for _ in 0..1800 {
            boat.second(STEADY_A);
        }
        let lowest_v = (0..BURST_S).map(|_| boat.second(BURST_A)).fold(f64::INFINITY, f64::min);
        dropped += u32::from(lowest_v <= CUT_OFF_V && boat.bank.true_soc() > 0.3);
    }
    let (soc, reckoned) = (boat.bank.true_soc(), boat.reckoner.report());
    say(&format!(
        "{dropped} bursts below the cut-off, empty fixes at {:?}; {soc:.3}, reckoned {reckoned:?}",
        boat.emptied
    ));
    assert!(dropped >= 3, "{dropped} bursts below the cut-off");
    assert!(boat.emptied.is_empty(), "empty at a true state of charge of {:?}", boat.emptied);
    // On to the end at the steady load, where the cut-off means what it says.
    while boat.second(STEADY_A) > CUT_OFF_V {}
    for _ in 0..600 {
        boat.second(STEADY_A);
    }
    assert!(boat.emptied.iter().any(|soc| *soc < 0.1), "no empty fix at the end: {:?}", boat.emptied);
}
