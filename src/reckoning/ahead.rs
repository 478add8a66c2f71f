//! The picture ahead: where the charge goes if the recent mean current goes on.

use super::endurance::{Outlook, outlook};
use super::terms::Reckoned;
use crate::battery::Bank;
use crate::quantity::Band;

/// No picture reaches further than this, s.
const HORIZON_S: f64 = 48.0 * 3600.0;
/// Points of the picture after the first.
const STEPS: u32 = 48;

/// One point of the picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AheadPoint {
    /// Seconds from now.
    pub t_s: f64,
    /// Likely state of charge.
    pub soc: f64,
    /// Its band.
    pub band: Band,
}

/// The fan from now to the end of the slowest edge, at most 48 h.
///
/// Each line falls evenly by the charge that the load takes until its cut-off, or rises evenly to full. At rest the fan is
/// level.
#[must_use]
pub fn ahead(bank: &Bank, state: &Reckoned) -> Vec<AheadPoint> {
    let lines = match outlook(bank, state) {
        Outlook::Rest => Lines::level(state, 6.0 * 3600.0),
        Outlook::Falling(lasts) => {
            let arrive_s = [lasts.empty.low_s, lasts.empty.likely_s, lasts.empty.high_s];
            let per_s = -state.mean_current_a.unwrap_or(0.0) / 3600.0 / bank.rated_capacity_ah;
            Lines::towards(state, arrive_s, |soc, arrive_s| (soc - per_s * arrive_s).max(0.0))
        }
        // The high edge is full first.
        Outlook::Rising(full) => Lines::towards(state, [full.high_s, full.likely_s, full.low_s], |_, _| 1.0),
    };
    lines.points()
}

/// Three straight lines (low, likely, high): from, to, and when they arrive.
struct Lines {
    from: [f64; 3],
    to: [f64; 3],
    arrive_s: [f64; 3],
    reach_s: f64,
}

impl Lines {
    fn level(state: &Reckoned, reach_s: f64) -> Lines {
        let from = [state.soc_band.low, state.soc, state.soc_band.high];
        Lines { from, to: from, arrive_s: [reach_s; 3], reach_s }
    }

    fn towards(state: &Reckoned, arrive_s: [f64; 3], end: impl Fn(f64, f64) -> f64) -> Lines {
        let from = [state.soc_band.low, state.soc, state.soc_band.high];
        let [low, likely, high] = std::array::from_fn(|i| end(from[i], arrive_s[i]));
        // The edges end on their own side of the likely line, whatever the cut-off's own doubt does to them.
        let to = [low.min(likely), likely, high.max(likely)];
        let latest = arrive_s.into_iter().fold(0.0, f64::max);
        Lines { from, to, arrive_s, reach_s: latest.clamp(600.0, HORIZON_S) }
    }

    fn points(&self) -> Vec<AheadPoint> {
        let at = |i: usize, t_s: f64| {
            let part = if self.arrive_s[i] > 0.0 { (t_s / self.arrive_s[i]).min(1.0) } else { 1.0 };
            self.from[i] + (self.to[i] - self.from[i]) * part
        };
        (0..=STEPS)
            .map(|step| {
                let t_s = self.reach_s * f64::from(step) / f64::from(STEPS);
                let soc = at(1, t_s);
                // Lines that meet may cross by a rounding error.
                AheadPoint { t_s, soc, band: Band { low: at(0, t_s).min(soc), high: at(2, t_s).max(soc) } }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::battery::Chemistry;
    use crate::quantity::Reading;
    use crate::reckoning::{Method, Reckoner, Start};

    fn fan(current_a: f64, start: Start) -> Vec<AheadPoint> {
        let bank = Bank::new("house", Chemistry::Lfp, 8, 100.0, 20.0).expect("possible");
        let mut reckoner = Reckoner::begin(Method::Counter, bank.clone(), start);
        for second in 0..60 {
            reckoner.step(&Reading { t_s: f64::from(second), voltage_v: 26.4, current_a, temperature_c: Some(20.0) });
        }
        ahead(&bank, &reckoner.report())
    }

    #[test]
    fn the_fan_starts_at_now_keeps_its_order_and_ends_empty() {
        let points = fan(-10.0, Start::At(0.8));
        assert!(points[0].t_s.abs() < 1e-12 && (points[0].soc - 0.8).abs() < 0.01);
        for pair in points.windows(2) {
            assert!(pair[1].soc <= pair[0].soc && pair[1].t_s > pair[0].t_s);
            assert!(pair[1].band.low <= pair[1].soc + 1e-12 && pair[1].soc <= pair[1].band.high + 1e-12);
        }
        let last = points.last().expect("points");
        assert!(last.band.high < 0.02 && last.t_s <= HORIZON_S);
    }

    #[test]
    fn charging_rises_to_full_and_rest_stays_level() {
        assert!((fan(20.0, Start::At(0.5)).last().expect("points").soc - 1.0).abs() < 1e-9);
        let rest = fan(0.0, Start::At(0.5));
        assert!((rest[0].soc - rest[rest.len() - 1].soc).abs() < 1e-12);
    }
}
