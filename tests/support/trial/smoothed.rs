//! The line as reconciled after a full fix, against the line as it was live.

use taffrail::reckoning::{FixKind, Method, Reckoner, Reconciled, Traverse};

use super::Trace;
use super::score::Score;

/// Marks are this far apart, s: the rhythm of the stored track.
const MARK_S: f64 = 60.0;

/// Both lines over the same rows.
#[derive(Debug, Clone, Copy, Default)]
pub struct Outcome {
    pub live: Score,
    pub reconciled: Score,
    pub closed_by_full: usize,
}

impl Outcome {
    /// RMS of the reconciled line in parts of the live one's.
    pub fn ratio(&self) -> f64 {
        self.reconciled.rms() / self.live.rms()
    }

    fn take(&mut self, reconciled: Vec<Reconciled<f64>>) {
        for mark in reconciled {
            self.live.add(mark.key, mark.live.soc, mark.live.soc_band);
            self.reconciled.add(mark.key, mark.soc, mark.band);
        }
    }
}

/// Follows a trace, reconciling at each full fix; what comes after the last is not scored, nothing has closed it yet.
pub fn reconcile(method: Method, trace: &Trace) -> Outcome {
    reconcile_with(trace.begin(method), trace)
}

/// The same with a reckoner of one's own.
pub fn reconcile_with(reckoner: Reckoner, trace: &Trace) -> Outcome {
    let mut traverse = Traverse::begin(reckoner);
    let mut outcome = Outcome::default();
    let mut marked_s = f64::NEG_INFINITY;
    for row in &trace.rows {
        let fix = traverse.step(&row.reading);
        let is_full = fix.is_some_and(|fix| fix.kind == FixKind::Full);
        if let Some(truth) = row.soc
            && (is_full || row.reading.t_s - marked_s >= MARK_S)
        {
            traverse.mark(truth);
            marked_s = row.reading.t_s;
        }
        if is_full {
            outcome.take(traverse.close());
            outcome.closed_by_full += 1;
        }
    }
    outcome
}
