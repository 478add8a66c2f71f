//! Sections on what is learned of a bank: the ten real days, and banks that hold another capacity than their rating.

use taffrail::quantity::Estimate;
use taffrail::reckoning::Method;

use crate::lines::{Lines, NO_GOAL, both_signs, figures, percent};
use crate::support::trial::aged::{Found, find_capacity, twice};
use crate::support::trial::must;
use crate::support::trial::traces;
use crate::support::trial::vrla::{Outcome, read};
use crate::threads::two_at_a_time;

/// True capacity in parts of the rating.
const RATIOS: [f64; 3] = [0.85, 1.0, 1.15];

/// Ten days of a real unit, described as its data sheet does and as measured when new.
pub fn vrla(method: Method) -> Lines {
    let traces: Vec<_> = [17.0, 19.0].into_iter().filter_map(traces::vrla).collect();
    let outcomes = two_at_a_time(&traces, |trace| read(method, trace));
    let lines = traces.iter().zip(&outcomes).flat_map(|(trace, outcome)| vrla_lines(&trace.name, outcome)).collect();
    Lines::of("vrla: ten real days (end of discharge <= 6, after recharge >= 97, inside >= 95)", lines)
}

fn vrla_lines(name: &str, outcome: &Outcome) -> [String; 5] {
    let empty = outcome
        .empty
        .iter()
        .map(|&(soc, low)| format!("{}(from{})", percent(soc, soc <= must::EMPTY), percent(low, low <= must::EMPTY)));
    let full = outcome.full.iter().map(|&soc| percent(soc, soc >= must::FULL));
    let (capacity_ah, band) = outcome.capacity_ah;
    let learned = outcome.learned.map_or("efficiency not learned".to_owned(), |learned| {
        format!(
            "efficiency {}, offset A {}, resistance Ω {}",
            with_band(learned.charge_efficiency),
            with_band(learned.sensor_offset_a),
            with_band(learned.resistance_25_ohm)
        )
    });
    [
        format!("{name}: {}", figures(&outcome.score, must::BAND)),
        format!("    end of discharge {}", empty.collect::<Vec<_>>().join(" ")),
        format!("    after recharge   {}", full.collect::<Vec<_>>().join(" ")),
        format!(
            "    capacity {capacity_ah:.2} Ah, band {:.2} to {:.2} (last measured 18.3 to 18.5)",
            band.low, band.high
        ),
        format!("    {learned}"),
    ]
}

/// Passages played twice on banks that hold 85, 100 and 115 % of their rating.
pub fn aged(method: Method) -> Lines {
    let passages = traces::physics("passage").unwrap_or_default();
    let lines = RATIOS.into_iter().flat_map(|ratio| {
        let doubled: Vec<_> = passages.iter().map(|trace| twice(trace, ratio)).collect();
        both_signs(&doubled, |trace| {
            let outcome = find_capacity(method, trace, ratio);
            let found: Vec<String> = outcome.found.iter().map(capacity).collect();
            format!(
                "{:>4.0} %: capacity/truth {}  ({})",
                100.0 * ratio,
                found.join(" "),
                figures(&outcome.score, NO_GOAL)
            )
        })
    });
    Lines::of(
        "aged: passage twice; capacity in % of the truth at each end (second within 4, band holds)",
        lines.collect(),
    )
}

fn capacity(found: &Found) -> String {
    let is_good = found.holds && (found.ratio - 1.0).abs() <= must::CAPACITY;
    let fixes = found.full_fixes;
    format!("{}±{:>5.1} after {fixes} full", percent(found.ratio, is_good), 100.0 * found.half_width)
}

fn with_band(estimate: Estimate) -> String {
    format!("{:.3} ± {:.3}", estimate.value, estimate.band().width() / 2.0)
}
