//! Diffusion along a chain of control volumes, stepped implicitly (backward Euler), so that any step length is stable.
//!
//! Both batteries use it: acid through the plates of a lead cell, lithium through the shells of a particle.

use serde::{Deserialize, Serialize};

/// Control volumes in a chain.
pub const NODES: usize = 10;

/// One value for each control volume.
pub type Profile = [f64; NODES];

/// Backward-Euler operator of a chain, factored once for a step length and a set of conductances (Thomas algorithm).
#[derive(Clone, Debug, Default, Serialize, Deserialize)]
pub struct Chain {
    dt_s: f64,
    storage: Profile,
    lower: Profile,
    upper_over_pivot: Profile,
    pivot_inverse: Profile,
}

impl Chain {
    /// Factors the operator. `volume` in any unit of volume; `conductance[i]` in volume per second between volumes `i` and `i + 1`
    /// (the last entry is unused: both ends are closed).
    pub fn factor(dt_s: f64, volume: &Profile, conductance: &Profile) -> Self {
        let mut chain = Self { dt_s, ..Self::default() };
        let mut left = 0.0;
        let mut carried = 0.0;
        for i in 0..NODES {
            let right = if i + 1 < NODES { conductance[i] } else { 0.0 };
            chain.storage[i] = volume[i] / dt_s;
            chain.lower[i] = -left;
            let pivot = chain.storage[i] + left + right + left * carried;
            chain.pivot_inverse[i] = 1.0 / pivot;
            chain.upper_over_pivot[i] = -right / pivot;
            carried = chain.upper_over_pivot[i];
            left = right;
        }
        chain
    }

    /// The step length it was factored for, s; 0 when it never was.
    pub fn dt_s(&self) -> f64 {
        self.dt_s
    }

    /// The profile at the end of a step that begins with `before` and has no source.
    pub fn relax(&self, before: &Profile) -> Profile {
        let mut right_side = *before;
        for (value, storage) in right_side.iter_mut().zip(&self.storage) {
            *value *= storage;
        }
        self.solve(right_side)
    }

    /// What a steady source (amount per second in each volume) adds to the profile over one step.
    pub fn response(&self, source: &Profile) -> Profile {
        self.solve(*source)
    }

    fn solve(&self, mut x: Profile) -> Profile {
        x[0] *= self.pivot_inverse[0];
        for i in 1..NODES {
            x[i] = (x[i] - self.lower[i] * x[i - 1]) * self.pivot_inverse[i];
        }
        for i in (0..NODES - 1).rev() {
            x[i] -= self.upper_over_pivot[i] * x[i + 1];
        }
        x
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_closed_chain_keeps_its_amount_and_levels_out() {
        let volume = [1.0, 2.0, 0.5, 1.0, 1.0, 3.0, 1.0, 0.2, 1.0, 1.0];
        let chain = Chain::factor(10.0, &volume, &[0.02; NODES]);
        let mut profile = [5.0, 1.0, 0.0, 0.0, 2.0, 0.0, 0.0, 0.0, 0.0, 9.0];
        let amount = |p: &Profile| p.iter().zip(&volume).map(|(c, v)| c * v).sum::<f64>();
        let before = amount(&profile);
        for _ in 0..100_000 {
            profile = chain.relax(&profile);
        }
        assert!((amount(&profile) - before).abs() < 1e-8);
        let mean = before / volume.iter().sum::<f64>();
        assert!(profile.iter().all(|c| (c - mean).abs() < 1e-6), "{profile:?} against {mean}");
    }

    #[test]
    fn a_source_adds_exactly_what_it_supplies() {
        let volume = [0.7; NODES];
        let chain = Chain::factor(3.0, &volume, &[0.1; NODES]);
        let mut source = [0.0; NODES];
        source[4] = 0.25;
        let added: f64 = chain.response(&source).iter().map(|c| c * 0.7).sum();
        assert!((added - 0.75).abs() < 1e-12);
    }
}
