//! A sensor that misbehaves on a passage: stuck, spiking, blind, silent.

use taffrail::reckoning::{Fix, FixKind, Method};

use super::Trace;
use super::score::{Score, holds};
use crate::support::TruthRow;

const HOUR_S: f64 = 3600.0;
/// A full fix with less charge than this is false: the full rule's own doubt is far smaller.
const NEARLY_FULL: f64 = 0.97;

/// Rows further apart than this have a gap between them, s.
const UNSEEN_S: f64 = 600.0;

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fault {
    /// The voltage stands still for six hours of the hardest discharge.
    StuckVoltage,
    /// Every three hours one sample says +200 A, -200 A or 0 V.
    Spikes,
    /// No temperature for the third day.
    NoTemperature,
    /// Nothing comes for twenty minutes of the hardest discharge.
    ShortGap,
    /// Nothing comes for five hours of the hardest discharge.
    LongGap,
}

impl Fault {
    pub const fn words(self) -> &'static str {
        match self {
            Fault::StuckVoltage => "voltage stuck 6 h",
            Fault::Spikes => "spikes of one sample",
            Fault::NoTemperature => "no temperature 1 day",
            Fault::ShortGap => "gap of 20 min",
            Fault::LongGap => "gap of 5 h",
        }
    }
}

/// What came of it.
#[derive(Debug, Clone, Copy, Default)]
pub struct Outcome {
    pub score: Score,
    /// Full fixes that were none, and other fixes whose band does not hold the truth.
    pub false_fixes: usize,
    /// Greatest step away from the truth from one row to the next, ratio; fixes, and what a gap hid, do not count.
    pub greatest_jump: f64,
}

/// The trace with the fault in it.
pub fn with(trace: &Trace, fault: Fault) -> Trace {
    let mut faulty = trace.clone();
    let rows = &mut faulty.rows;
    match fault {
        Fault::StuckVoltage => {
            let span = hardest(rows, 6.0 * HOUR_S);
            let stuck_v = rows[span.start].reading.voltage_v;
            rows[span].iter_mut().for_each(|row| row.reading.voltage_v = stuck_v);
        }
        Fault::Spikes => spike(rows),
        Fault::NoTemperature => {
            let day = 2.0 * 24.0 * HOUR_S..3.0 * 24.0 * HOUR_S;
            let blind = rows.iter_mut().filter(|row| day.contains(&row.reading.t_s));
            blind.for_each(|row| row.reading.temperature_c = None);
        }
        Fault::ShortGap => silence(rows, HOUR_S / 3.0),
        Fault::LongGap => silence(rows, 5.0 * HOUR_S),
    }
    faulty
}

/// Follows a trace and watches for false fixes and jumps.
pub fn follow(method: Method, trace: &Trace) -> Outcome {
    let mut reckoner = trace.begin(method);
    let mut outcome = Outcome::default();
    let mut before: Option<(f64, f64)> = None;
    for row in &trace.rows {
        let fix = reckoner.step(&row.reading);
        let state = reckoner.report();
        let truth = row.soc.expect("truth all along");
        outcome.score.add(truth, state.soc, state.soc_band);
        outcome.false_fixes += usize::from(fix.is_some_and(|fix| is_false(&fix, truth)));
        let error = (state.soc - truth).abs();
        if let Some((before_s, error_before)) = before
            && fix.is_none()
            && row.reading.t_s - before_s < UNSEEN_S
        {
            outcome.greatest_jump = outcome.greatest_jump.max(error - error_before);
        }
        before = Some((row.reading.t_s, error));
    }
    outcome
}

fn is_false(fix: &Fix, truth: f64) -> bool {
    match fix.kind {
        FixKind::Full => truth < NEARLY_FULL,
        FixKind::Rest | FixKind::Empty | FixKind::Hand => !holds(fix.after.soc_band, truth),
    }
}

fn silence(rows: &mut Vec<TruthRow>, length_s: f64) {
    let span = hardest(rows, length_s);
    rows.drain(span);
}

fn spike(rows: &mut [TruthRow]) {
    let mut next_s = rows[0].reading.t_s + 3.0 * HOUR_S;
    let mut kind = 0;
    for row in rows {
        if row.reading.t_s < next_s {
            continue;
        }
        match kind % 3 {
            0 => row.reading.current_a = 200.0,
            1 => row.reading.current_a = -200.0,
            _ => row.reading.voltage_v = 0.0,
        }
        kind += 1;
        next_s += 3.0 * HOUR_S;
    }
}

/// The rows of that length over which most charge is drawn, among those before which a load runs that is no lighter than
/// the mean of what follows: a load that runs on, not one that nobody could expect. The trace is evenly spaced.
fn hardest(rows: &[TruthRow], length_s: f64) -> std::ops::Range<usize> {
    let step_s = rows[1].reading.t_s - rows[0].reading.t_s;
    let count = rows.partition_point(|row| row.reading.t_s < rows[0].reading.t_s + length_s);
    let mut sums = vec![0.0];
    sums.extend(rows.iter().scan(0.0, |sum, row| {
        *sum += row.reading.current_a;
        Some(*sum)
    }));
    let mean_a = |start: usize| (sums[start + count] - sums[start]) / length_s * step_s;
    let runs_on = |&start: &usize| rows[start - 1].reading.current_a <= mean_a(start);
    let starts = (1..rows.len() - count).filter(runs_on);
    let start = starts.min_by(|&a, &b| mean_a(a).total_cmp(&mean_a(b))).expect("a load that runs on");
    start..start + count
}
