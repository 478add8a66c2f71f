//! One channel's way through the minutes.

use crate::quantity::{Extreme, MonoMs, Spread, areas};

/// Means of one channel. Lines run between its readings; the interval between two belongs to the later one, and counts only
/// where it is no longer than the device's gap.
#[derive(Debug, Clone, Default)]
pub struct Means {
    carry: Option<(i64, f64)>,
    count: u32,
    sum: f64,
    covered_s: f64,
    area: f64,
}

impl Means {
    /// Takes readings of a minute; NaN where there is none.
    pub fn take(&mut self, time_ms: &[i64], values: &[f64], gap_ms: i64) {
        for (&time, &value) in time_ms.iter().zip(values) {
            if value.is_nan() {
                continue;
            }
            self.count += 1;
            self.sum += value;
            if let Some((before_ms, before)) = self.carry.replace((time, value))
                && time - before_ms <= gap_ms
            {
                let seconds = seconds(time - before_ms);
                self.covered_s += seconds;
                self.area += (before + value) / 2.0 * seconds;
            }
        }
    }

    /// The mean of what came since the last call: weighted by time, or plain where no interval counts; `None` if nothing
    /// came.
    pub fn close(&mut self) -> Option<f64> {
        let mean = match (self.count, self.covered_s > 0.0) {
            (0, _) => None,
            (_, true) => Some(self.area / self.covered_s),
            (count, false) => Some(self.sum / f64::from(count)),
        };
        *self = Means { carry: self.carry, ..Means::default() };
        mean
    }
}

/// Mean, extremes and areas of one channel.
#[derive(Debug, Clone)]
pub struct Flow {
    means: Means,
    above: f64,
    below: f64,
    min: (i64, f64),
    max: (i64, f64),
}

/// What a [`Flow`] comes to in a minute.
#[derive(Debug, Clone, Copy, Default)]
pub struct Flowed {
    pub spread: Option<Spread>,
    pub covered_s: f64,
    /// Unit seconds, ≥ 0.
    pub above: f64,
    /// Unit seconds, ≤ 0.
    pub below: f64,
}

const NO_MIN: (i64, f64) = (0, f64::INFINITY);
const NO_MAX: (i64, f64) = (0, f64::NEG_INFINITY);

impl Default for Flow {
    fn default() -> Flow {
        Flow { means: Means::default(), above: 0.0, below: 0.0, min: NO_MIN, max: NO_MAX }
    }
}

impl Flow {
    /// Takes a reading; NaN where there is none.
    pub fn take(&mut self, time: i64, value: f64, gap_ms: i64) {
        if value.is_nan() {
            return;
        }
        if value < self.min.1 {
            self.min = (time, value);
        }
        if value > self.max.1 {
            self.max = (time, value);
        }
        let means = &mut self.means;
        means.count += 1;
        means.sum += value;
        if let Some((before_ms, before)) = means.carry.replace((time, value))
            && time - before_ms <= gap_ms
        {
            let seconds = seconds(time - before_ms);
            let (above, below) = areas(before, value, seconds);
            means.covered_s += seconds;
            means.area += above + below;
            self.above += above;
            self.below += below;
        }
    }

    /// What came since the last call.
    pub fn close(&mut self) -> Flowed {
        let covered_s = self.means.covered_s;
        let extreme = |(time, value): (i64, f64)| Extreme { value, at: MonoMs(time) };
        let spread = self.means.close().map(|mean| Spread { mean, min: extreme(self.min), max: extreme(self.max) });
        let flowed = Flowed { spread, covered_s, above: self.above, below: self.below };
        *self = Flow { means: std::mem::take(&mut self.means), ..Flow::default() };
        flowed
    }

    /// When the last reading came, ms.
    pub fn last_ms(&self) -> Option<i64> {
        self.means.carry.map(|(time, _)| time)
    }
}

#[expect(clippy::cast_precision_loss, reason = "milliseconds between readings, far below 2^53")]
fn seconds(ms: i64) -> f64 {
    ms as f64 / 1000.0
}
