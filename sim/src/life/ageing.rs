//! Ageing by the script: the factors on the active material of each monobloc that make bank and weak monobloc deliver just what is laid down.
//!
//! A plate with less material gives less charge, but not in proportion, and a weak monobloc ends the discharge of its bank early. So the
//! factors are found by discharging copies: at the ends of stretches of some weeks, on straight lines between them.

use super::script::Script;
use super::{DAY_S, RATED_AH};
use crate::battery::{Ageing, Bank, BankSpec, LeadBlock, Request, ThermalMass};

/// Length of a stretch, s.
const STRETCH_S: i64 = 30 * DAY_S;
/// Parts of the material at which each monobloc's own capacity is measured.
const MEASURED_AT: [f64; 7] = [1.05, 1.0, 0.9, 0.8, 0.7, 0.6, 0.5];
/// The bank's capacity is met to this part of it.
const TOLERANCE: f64 = 2e-4;

/// Factors on the material: of the whole bank, and beside it of the weak monobloc.
#[derive(Clone, Copy, Debug)]
struct Factors {
    bank: f64,
    weak: f64,
}

/// What makes the bank as old as the script says.
#[derive(Clone, Debug)]
pub struct Clockwork {
    /// The bank when new, full and at rest.
    new: Bank<LeadBlock>,
    new_ah: f64,
    /// Own capacity of each monobloc at [`MEASURED_AT`], Ah.
    own_ah: Vec<[f64; MEASURED_AT.len()]>,
    weak: usize,
    natural: f64,
    stretch: i64,
    ends: [Factors; 2],
}

impl Clockwork {
    /// For a new bank, whose age is scripted.
    pub fn new(bank: &Bank<LeadBlock>, script: &Script) -> Self {
        let own_ah: Vec<_> =
            bank.monoblocs().iter().map(|block| MEASURED_AT.map(|material| own_capacity_ah(block, material))).collect();
        let fresh = Factors { bank: 1.0, weak: 1.0 };
        let mut clockwork = Self {
            new: bank.clone(),
            new_ah: bank.true_capacity_ah(),
            own_ah,
            weak: script.weak.index,
            natural: 0.0,
            stretch: -1,
            ends: [fresh; 2],
        };
        clockwork.natural = 1.0 - clockwork.own_at(clockwork.weak, 1.0) / clockwork.mean_of_others(1.0);
        clockwork
    }

    /// Capacity of the bank at the 20 h rate and 25 °C, Ah.
    pub fn capacity_ah(&self, script: &Script, t_s: i64) -> f64 {
        self.new_ah * script.capacity_factor(t_s)
    }

    /// How far the weak monobloc's own capacity is behind the mean of the others.
    pub fn behind(&self, script: &Script, t_s: i64) -> f64 {
        script.behind(t_s, self.natural)
    }

    /// Makes the bank as old as it is to be.
    pub fn tell(&mut self, bank: &mut Bank<LeadBlock>, script: &Script, t_s: i64) {
        let stretch = t_s.div_euclid(STRETCH_S);
        if stretch != self.stretch {
            let known = if stretch == self.stretch + 1 { Some(self.ends[1]) } else { None };
            let begin = match known {
                Some(factors) if stretch > 0 => factors,
                _ => self.solve(script, stretch * STRETCH_S, self.ends[1]),
            };
            self.ends = [begin, self.solve(script, (stretch + 1) * STRETCH_S, begin)];
            self.stretch = stretch;
        }
        let part = (t_s - stretch * STRETCH_S) as f64 / STRETCH_S as f64;
        let between = |from: f64, to: f64| from + (to - from) * part;
        let [from, to] = self.ends;
        let factors = Factors { bank: between(from.bank, to.bank), weak: between(from.weak, to.weak) };
        self.apply(bank, script, t_s, factors);
    }

    /// What a load of the 5 h rate costs in its first second, as a resistance, at four fifths of charge, at rest before and at 25 °C, ohm.
    pub fn step_ohm(&self, script: &Script, t_s: i64) -> f64 {
        let fresh = Factors { bank: script.capacity_factor(t_s), weak: 1.0 };
        let mut copy = self.new.clone();
        self.apply(&mut copy, script, t_s, self.solve(script, t_s, fresh));
        copy.fill();
        let mut run = |steps: i64, dt_s: f64, current_a: f64| {
            for _ in 0..steps {
                copy.step(dt_s, Request::current(current_a), 25.0);
            }
            copy.voltage_v()
        };
        run(4 * 360, 10.0, -0.05 * self.capacity_ah(script, t_s));
        let rested_v = run(360, 10.0, 0.0);
        let load_a = RATED_AH / 5.0;
        (rested_v - run(1, 1.0, -load_a)) / load_a
    }

    fn apply(&self, bank: &mut Bank<LeadBlock>, script: &Script, t_s: i64, factors: Factors) {
        bank.ageing_mut().tell(factors.bank, script.resistance_factor(t_s));
        let resistance = script.weak_resistance_factor(t_s, self.natural);
        bank.monoblocs_mut()[self.weak].age_apart(factors.weak, resistance);
    }

    /// Factors at a moment, found by repeated approach from others that are near.
    fn solve(&self, script: &Script, t_s: i64, near: Factors) -> Factors {
        let wanted_ah = self.capacity_ah(script, t_s);
        let mut factors = near;
        for _ in 0..8 {
            let weak_ah = (1.0 - self.behind(script, t_s)) * self.mean_of_others(factors.bank);
            factors.weak = self.material_for(self.weak, weak_ah) / factors.bank;
            let mut copy = self.new.clone();
            self.apply(&mut copy, script, t_s, factors);
            let ratio = copy.deliverable_ah(RATED_AH / 20.0, 25.0) / wanted_ah;
            if (ratio - 1.0).abs() < TOLERANCE {
                break;
            }
            factors.bank /= ratio;
        }
        factors
    }

    fn mean_of_others(&self, material: f64) -> f64 {
        let others = (0..self.own_ah.len()).filter(|index| *index != self.weak);
        others.map(|index| self.own_at(index, material)).sum::<f64>() / (self.own_ah.len() - 1) as f64
    }

    /// Own capacity of a monobloc with this part of its material, Ah.
    fn own_at(&self, index: usize, material: f64) -> f64 {
        line(&MEASURED_AT, &self.own_ah[index], material)
    }

    /// The part of its material that gives a monobloc this capacity of its own.
    fn material_for(&self, index: usize, capacity_ah: f64) -> f64 {
        line(&self.own_ah[index], &MEASURED_AT, capacity_ah)
    }
}

/// Straight lines through points whose `x` falls, carried on beyond the ends.
fn line(x: &[f64], y: &[f64], at: f64) -> f64 {
    let place = x[1..x.len() - 1].iter().position(|known| at > *known).unwrap_or(x.len() - 2);
    y[place] + (y[place + 1] - y[place]) * (at - x[place]) / (x[place + 1] - x[place])
}

/// What a monobloc alone delivers at the 20 h rate and 25 °C with a part of its material, Ah.
pub fn own_capacity_ah(block: &LeadBlock, material: f64) -> f64 {
    let spec = BankSpec { rated_capacity_ah: RATED_AH, empty_v: 10.5, monobloc_max_v: 15.6, monobloc_min_v: 9.9 };
    let thermal = ThermalMass::new(25.0, 31e3, 2.0);
    Bank::new(spec, vec![block.clone()], thermal, Ageing::scripted(material, 1.0)).true_capacity_ah()
}
