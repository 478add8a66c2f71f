//! Open-circuit voltage of a lithium iron phosphate cell with a graphite negative, by charge held at the surface.
//!
//! The iron phosphate is flat (two phases); the two small steps are graphite passing from one stage to the next; both ends bend away.
//! Positions and heights are assumed, of the size that published curves show; no table is reproduced.

use std::sync::LazyLock;

const FIRST: f64 = -0.25;
const LAST: f64 = 1.25;
const CELLS: usize = 6000;

/// Half of the gap is not here: the curve lies midway between charge and discharge.
fn formula(held: f64) -> f64 {
    let step = |at: f64, width: f64, height_v: f64| 0.5 * height_v * (1.0 + ((held - at) / width).tanh());
    let knee = |distance: f64, width: f64, height_v: f64| height_v * (-(distance / width)).min(4.0).exp();
    3.252 + 0.014 * held + step(0.27, 0.045, 0.036) + step(0.69, 0.025, 0.028)
        - knee(held, 0.045, 0.16)
        - knee(held, 0.010, 0.60)
        + knee(1.0 - held, 0.007, 0.25)
        // Far outside 0..1 nothing else is left to rise or fall; a slope keeps the curve strictly rising for the solver.
        + 0.5 * (held - 1.0).max(0.0)
        + 0.5 * held.min(0.0)
}

static TABLE: LazyLock<Vec<f64>> =
    LazyLock::new(|| (0..=CELLS).map(|i| formula(FIRST + (LAST - FIRST) * i as f64 / CELLS as f64)).collect());

/// Voltage, V, and slope by charge held (0 empty .. 1 full), V.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the position is clamped to the table")]
pub fn voltage(held: f64) -> (f64, f64) {
    let per_cell = CELLS as f64 / (LAST - FIRST);
    let position = ((held - FIRST) * per_cell).clamp(0.0, CELLS as f64 - 1.0);
    let index = position as usize;
    let (left, right) = (TABLE[index], TABLE[index + 1]);
    // Outside the table the end cell is carried on in a straight line.
    let offset = (held - FIRST) * per_cell - index as f64;
    (left + (right - left) * offset, (right - left) * per_cell)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn voltage_rises_with_charge_held() {
        let mut last = voltage(-0.3).0;
        for step in -299..1300 {
            let (now, slope) = voltage(f64::from(step) / 1000.0);
            assert!(now > last && slope > 0.0, "{step}");
            last = now;
        }
    }

    #[test]
    fn middle_of_the_plateau_rises_less_than_three_millivolts_for_each_percent() {
        for percent in 40..60 {
            let rise = voltage(f64::from(percent + 1) / 100.0).0 - voltage(f64::from(percent) / 100.0).0;
            assert!(rise < 0.003, "{percent}: {rise}");
        }
    }
}
