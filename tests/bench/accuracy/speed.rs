//! A year at one sample a second on one core.

use rustix::time::{ClockId, clock_gettime};
use taffrail::quantity::Reading;
use taffrail::reckoning::Method;

use crate::lines::Lines;
use crate::support::trial::sensor::Sensor;
use crate::support::trial::{Trace, traces};

const YEAR_S: f64 = 365.25 * 86_400.0;
/// Processor time that a year may take, s.
const GOAL_S: f64 = 20.0;
/// The state is asked for this often, s: the rhythm of the stored track.
const REPORT_EVERY: usize = 60;

/// The method and the counter beside it.
pub fn year(method: Method) -> Lines {
    let Some(passage) = traces::physics("passage_lead").and_then(|mut traces| traces.pop()) else {
        return Lines::of(TITLE, Vec::new());
    };
    let passage = passage.through(Sensor::erring(1.0));
    let readings = every_second(&passage);
    let mut methods = vec![method, Method::Counter];
    methods.dedup();
    Lines::of(TITLE, methods.into_iter().map(|method| line(method, &passage, &readings)).collect())
}

const TITLE: &str = "speed: processor seconds for a year at 1 Hz, state asked for each minute (<= 20 s)";

fn line(method: Method, passage: &Trace, readings: &[Reading]) -> String {
    let mut reckoner = passage.begin(method);
    let (mut steps, mut offset_s, mut in_order) = (0, 0.0, true);
    let begun_s = processor_s();
    while offset_s < YEAR_S {
        for reading in readings {
            reckoner.step(&Reading { t_s: reading.t_s + offset_s, ..*reading });
            steps += 1;
            if steps % REPORT_EVERY == 0 {
                let state = reckoner.report();
                in_order &= state.soc_band.low <= state.soc && state.soc <= state.soc_band.high;
            }
        }
        offset_s += readings[readings.len() - 1].t_s + 1.0;
    }
    let year_s = (processor_s() - begun_s) * YEAR_S / offset_s;
    let mark = if year_s <= GOAL_S && in_order { "" } else { "*" };
    format!("{:<8} {year_s:>6.2} s{mark} ({steps} steps)", method.word())
}

/// The trace at one reading a second, on straight lines between its rows.
fn every_second(trace: &Trace) -> Vec<Reading> {
    let mut readings = Vec::new();
    for pair in trace.rows.windows(2) {
        let (from, to) = (pair[0].reading, pair[1].reading);
        let step_s = to.t_s - from.t_s;
        let mut second = 0.0;
        while second < step_s {
            let between = |a: f64, b: f64| a + (b - a) * second / step_s;
            readings.push(Reading {
                t_s: from.t_s + second,
                voltage_v: between(from.voltage_v, to.voltage_v),
                current_a: between(from.current_a, to.current_a),
                temperature_c: from.temperature_c,
            });
            second += 1.0;
        }
    }
    readings
}

/// Processor time of this thread: other programs on the machine do not count.
fn processor_s() -> f64 {
    std::time::Duration::try_from(clock_gettime(ClockId::ThreadCPUTime)).expect("since the start").as_secs_f64()
}
