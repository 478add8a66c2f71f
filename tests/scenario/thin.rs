//! Thins traces, so that tests of a debug build stay quick.

use super::say;
use super::voyages;
use crate::support::TruthRow;
use crate::support::trial::Trace;

/// Rows of a thinned trace are at most this far apart, s.
const APART_S: f64 = 60.0;
/// What a straight line between two rows may miss of the current between them, part of the rated capacity per hour.
const MISSED_C_RATE: f64 = 0.000_5;
/// A voltage that changes by more than this part of itself from row to row is kept on both sides.
const VOLTAGE_STEP: f64 = 0.05;

/// Leaves out rows between which the current runs straight, so that counting by trapezoids stays exact. Every edge of the
/// current and every spike stays.
pub fn thinned(trace: &Trace) -> Trace {
    let missed_a = MISSED_C_RATE * trace.bank.rated_capacity_ah;
    let mut rows: Vec<TruthRow> = Vec::new();
    let mut pending: Option<TruthRow> = None;
    let mut door = Door::WIDE;
    for row in &trace.rows {
        if let (Some(kept), Some(before)) = (rows.last().copied(), pending) {
            let stepped = (row.reading.voltage_v / before.reading.voltage_v - 1.0).abs() > VOLTAGE_STEP;
            let narrowed = door.narrowed(&kept, row, missed_a);
            if stepped || narrowed.is_shut() || row.reading.t_s - kept.reading.t_s > APART_S {
                rows.push(before);
                door = Door::WIDE.narrowed(&before, row, missed_a);
            } else {
                door = narrowed;
            }
        } else if let Some(kept) = rows.last() {
            door = door.narrowed(kept, row, missed_a);
        } else {
            rows.push(*row);
            continue;
        }
        pending = Some(*row);
    }
    rows.extend(pending);
    Trace { name: trace.name.clone(), bank: trace.bank.clone(), rows }
}

/// The slopes, A/s, that a line from the row last kept may have to pass near enough to every row since.
#[derive(Debug, Clone, Copy)]
struct Door {
    low: f64,
    high: f64,
}

impl Door {
    const WIDE: Door = Door { low: f64::NEG_INFINITY, high: f64::INFINITY };

    fn narrowed(self, kept: &TruthRow, row: &TruthRow, missed_a: f64) -> Door {
        let step_s = row.reading.t_s - kept.reading.t_s;
        let rise_a = row.reading.current_a - kept.reading.current_a;
        Door { low: self.low.max((rise_a - missed_a) / step_s), high: self.high.min((rise_a + missed_a) / step_s) }
    }

    fn is_shut(self) -> bool {
        self.low > self.high
    }
}

#[test]
fn thinning_keeps_the_count() {
    for trace in voyages() {
        let counted_ah = |trace: &Trace| -> f64 {
            let hours = |pair: &[TruthRow]| (pair[1].reading.t_s - pair[0].reading.t_s) / 3600.0;
            let mean_a = |pair: &[TruthRow]| f64::midpoint(pair[0].reading.current_a, pair[1].reading.current_a);
            trace.rows.windows(2).map(|pair| hours(pair) * mean_a(pair)).sum()
        };
        let thin = thinned(&trace);
        let lost = (counted_ah(&trace) - counted_ah(&thin)).abs() / trace.bank.rated_capacity_ah;
        say(&format!("{}: {} rows of {}, count differs by {lost:.5}", trace.name, thin.rows.len(), trace.rows.len()));
        assert!(lost < 0.002, "{}: {lost}", trace.name);
    }
}
