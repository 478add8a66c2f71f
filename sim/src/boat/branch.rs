//! Branches: the circuits on each bank and how a step's net current divides over them.

use serde::{Deserialize, Serialize};

/// True current of one branch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// The bank it is on.
    pub bank: &'static str,
    /// Its name.
    pub name: &'static str,
    /// Current, A; positive charges the bank.
    pub current_a: f64,
}

/// Circuits of the drive bank.
pub const DRIVE: [&str; 6] = ["motor", "regeneration", "generator", "shore", "dc-dc", "standing"];
/// Circuits of the house bank.
pub const HOUSE: [&str; 5] = ["loads", "solar", "generator", "shore", "dc-dc"];

/// Currents of the circuits of one bank, A.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Currents(pub Vec<f64>);

impl Currents {
    /// As many circuits, all dead.
    pub fn dead(count: usize) -> Self {
        Self(vec![0.0; count])
    }

    /// Sum of the loads (negative) and of what the sources could give (positive), A.
    pub fn wanted(&self) -> (f64, f64) {
        self.0
            .iter()
            .fold((0.0, 0.0), |(loads, sources), current| (loads + current.min(0.0), sources + current.max(0.0)))
    }

    /// Settles the wanted currents to the net current that really flowed: sources throttle in proportion; if that is not enough, loads are cut in proportion.
    pub fn settle(&mut self, net_a: f64) {
        let (loads_a, sources_a) = self.wanted();
        let (mut load_part, mut source_part) = (1.0, 1.0);
        if net_a < loads_a + sources_a && sources_a > 0.0 {
            source_part = ((net_a - loads_a) / sources_a).clamp(0.0, 1.0);
        } else if net_a > loads_a + sources_a && loads_a < 0.0 {
            load_part = ((net_a - sources_a) / loads_a).clamp(0.0, 1.0);
        }
        for current in &mut self.0 {
            *current *= if *current < 0.0 { load_part } else { source_part };
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settled_branches_add_up_to_the_net_current() {
        for (wanted, net_a) in [
            (vec![-5.0, 20.0, 10.0], 3.0),
            (vec![-5.0, 20.0, 10.0], -5.0),
            (vec![-50.0, -10.0, 2.0], -20.0),
            (vec![-1.0, 0.0], -1.0),
        ] {
            let mut currents = Currents(wanted);
            currents.settle(net_a);
            assert!((currents.0.iter().sum::<f64>() - net_a).abs() < 1e-12, "{currents:?}");
        }
    }
}
