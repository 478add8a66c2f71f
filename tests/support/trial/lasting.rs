//! Endurance at a constant load against the time that it truly lasted.

use taffrail::reckoning::{Method, Outlook, Reckoned, Span, endurance, outlook};

use super::Trace;

/// Reckoned time to empty against the true one, at one moment.
#[derive(Debug, Clone, Copy)]
pub struct Guess {
    /// True time left, s.
    pub true_s: f64,
    pub span: Span,
}

impl Guess {
    /// Error in parts of the true time.
    pub fn error(&self) -> f64 {
        self.span.likely_s / self.true_s - 1.0
    }

    pub fn holds(&self) -> bool {
        (self.span.low_s..=self.span.high_s).contains(&self.true_s)
    }
}

/// Guesses along one run to the cut-off.
#[derive(Debug, Clone, Copy)]
pub struct Outcome {
    /// Ten minutes into the load, at the load that flows.
    pub begun: Guess,
    /// As `begun`, but at the recent mean load, which still remembers the rest before.
    pub begun_by_mean: Guess,
    /// With half of the time gone, at the recent mean load.
    pub half_way: Guess,
}

/// When the load has lasted for so long, s, its endurance is asked for.
const KNOWN_AFTER_S: f64 = 600.0;

/// Follows a trace that ends at the cut-off under a constant load.
pub fn until_cutoff(method: Method, trace: &Trace) -> Outcome {
    let last = trace.rows[trace.rows.len() - 1].reading;
    let is_load = |current_a: f64| (current_a / last.current_a - 1.0).abs() < 0.03;
    let before = trace.rows.iter().rposition(|row| !is_load(row.reading.current_a)).map_or(0, |at| at + 1);
    let load_from_s = trace.rows[before].reading.t_s;
    let mut reckoner = trace.begin(method);
    let mut states: [Option<(f64, Reckoned)>; 2] = [None; 2];
    let asked_at_s = [load_from_s + KNOWN_AFTER_S, f64::midpoint(load_from_s, last.t_s)];
    for row in &trace.rows {
        reckoner.step(&row.reading);
        for (state, asked_s) in states.iter_mut().zip(asked_at_s) {
            if state.is_none() && row.reading.t_s >= asked_s {
                *state = Some((last.t_s - row.reading.t_s, reckoner.report()));
            }
        }
    }
    let [(begun_s, begun), (half_s, half)] = states.map(|state| state.expect("a load that lasts"));
    Outcome {
        begun: Guess { true_s: begun_s, span: endurance(&trace.bank, &begun, -last.current_a).empty },
        begun_by_mean: Guess { true_s: begun_s, span: by_mean(trace, &begun) },
        half_way: Guess { true_s: half_s, span: by_mean(trace, &half) },
    }
}

fn by_mean(trace: &Trace, state: &Reckoned) -> Span {
    match outlook(&trace.bank, state) {
        Outlook::Falling(lasts) => lasts.empty,
        Outlook::Rest | Outlook::Rising(_) => Span { likely_s: f64::INFINITY, low_s: 0.0, high_s: f64::INFINITY },
    }
}
