//! A step that waits for its minute.

use serde::{Deserialize, Serialize};

use super::trace::{Level, Point, read_gaps, write_gaps};
use super::{MINUTE_FROM_MS, MINUTE_TO_MS, WANDER};

/// What is gathered about a minute after a step, while the current stands still.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Hold {
    pub before: Level,
    after_a: f64,
    readings: usize,
    voltage_v: f64,
    current_a: f64,
    #[serde(serialize_with = "write_gaps", deserialize_with = "read_gaps")]
    monobloc_v: Vec<f64>,
}

/// What became of it with a reading.
pub(super) enum Held {
    /// It goes on.
    On,
    /// The current moved.
    Broken,
    /// The minute is over: voltage, current, voltages of the monoblocs, and how many readings they are the mean of.
    Done(f64, f64, Vec<f64>, usize),
}

impl Hold {
    pub fn new(before: Level, after_a: f64) -> Hold {
        let monoblocs = before.monobloc_v.len();
        Hold { before, after_a, readings: 0, voltage_v: 0.0, current_a: 0.0, monobloc_v: vec![0.0; monoblocs] }
    }

    pub fn look(&mut self, point: &Point, monobloc_v: &[f64]) -> Held {
        let step_a = self.after_a - self.before.current_a;
        let since = point.mono_ms - self.before.last_ms;
        if since > MINUTE_TO_MS {
            return self.over();
        }
        if (point.current_a - self.after_a).abs() > WANDER * step_a.abs() {
            return Held::Broken;
        }
        if since >= MINUTE_FROM_MS {
            self.readings += 1;
            self.voltage_v += point.voltage_v;
            self.current_a += point.current_a;
            for (sum, v) in self.monobloc_v.iter_mut().zip(monobloc_v) {
                *sum += v;
            }
        }
        Held::On
    }

    fn over(&self) -> Held {
        if self.readings == 0 {
            return Held::Broken;
        }
        let n = self.readings as f64;
        let monobloc_v = self.monobloc_v.iter().map(|sum| sum / n).collect();
        Held::Done(self.voltage_v / n, self.current_a / n, monobloc_v, self.readings)
    }
}
