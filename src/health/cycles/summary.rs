//! Cycles in few numbers.

/// Throughput in equivalent full cycles: half of all charge moved, in and out, over the capacity.
/// Common practice, no source. 0 for a capacity that is not positive.
#[must_use]
pub fn equivalent_full_cycles(charge_in_ah: f64, charge_out_ah: f64, capacity_ah: f64) -> f64 {
    if capacity_ah > 0.0 { 0.5 * (charge_in_ah.abs() + charge_out_ah.abs()) / capacity_ah } else { 0.0 }
}

/// Cycles by depth, in tenths of the capacity: from 0 to 0.1 first, 0.9 and above last.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Depths {
    /// Cycles in each tenth; halves count as halves.
    pub counts: [f64; 10],
}

impl Depths {
    /// Adds cycles told by (range of the state of charge, count). What is not finite, or no swing at all, is left out.
    pub fn add(&mut self, swings: impl IntoIterator<Item = (f64, f64)>) {
        let usable = swings.into_iter().filter(|(range, count)| *range > 0.0 && range.is_finite() && count.is_finite());
        for (range, count) in usable {
            // Ranges are differences: 0.8 - 0.3 is a hair below 0.5 and belongs to it.
            let tenth = (1..10_u8).take_while(|i| range + 1e-9 >= f64::from(*i) / 10.0).count();
            self.counts[tenth] += count;
        }
    }

    /// All cycles.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.counts.iter().sum()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_discharge_and_recharge_is_one_full_cycle() {
        assert!((equivalent_full_cycles(100.0, 100.0, 100.0) - 1.0).abs() < 1e-12);
        assert!((equivalent_full_cycles(55.0, 45.0, 200.0) - 0.25).abs() < 1e-12);
        assert!(equivalent_full_cycles(55.0, 45.0, 0.0).abs() < 1e-12);
    }

    #[test]
    fn a_depth_on_the_edge_belongs_to_the_deeper_tenth() {
        let mut depths = Depths::default();
        depths.add([(0.05, 0.5), (0.8 - 0.3, 1.0), (1.0, 1.0), (0.0, 1.0), (f64::NAN, 1.0)]);
        assert_eq!(depths, Depths { counts: [0.5, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0, 0.0, 1.0] });
        assert!((depths.total() - 2.5).abs() < 1e-12);
    }
}
