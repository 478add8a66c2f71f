//! Summaries of samples: how many, from where to where, their mean, and integrals of currents and powers.
//!
//! The mean is that of the samples. The integrals follow straight lines between samples; the interval between two
//! samples of a channel belongs to the later one, and counts only if it is no longer than the series' gap. Where the
//! line crosses zero each side gets its own part. So summaries of neighbouring stretches add up to that of the whole.

use super::codec::Columns;
use crate::quantity::areas;

pub(super) const MINUTE_MS: i64 = 60_000;
pub(super) const HOUR_MS: i64 = 3_600_000;
pub(super) const DAY_MS: i64 = 86_400_000;

/// Rows of hours or days that one packed block holds: eight days of hours.
const ROWS_A_BLOCK: i64 = 192;

/// Length of a block of summaries of `span_ms`.
pub(super) const fn block_ms(span_ms: i64) -> i64 {
    ROWS_A_BLOCK * span_ms
}

/// The last value of a channel, from which the next interval starts.
pub(super) type Carry = Option<(i64, f64)>;

/// Summary of one channel over a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Summary {
    /// Number of samples with a value.
    pub count: i64,
    /// Seconds that the intervals before these samples cover, gaps left out.
    pub covered_s: f64,
    /// Smallest value.
    pub min: f64,
    /// Largest value.
    pub max: f64,
    /// Sum of the values; the mean is this by `count`.
    pub sum: f64,
    /// Integral of the part above zero, unit seconds.
    pub positive: f64,
    /// Integral of the part below zero, unit seconds, not positive.
    pub negative: f64,
}

impl Summary {
    /// Nothing yet.
    pub const EMPTY: Summary = Summary {
        count: 0,
        covered_s: 0.0,
        min: f64::INFINITY,
        max: f64::NEG_INFINITY,
        sum: 0.0,
        positive: 0.0,
        negative: 0.0,
    };

    /// Mean of the samples; NaN if there are none.
    #[must_use]
    pub fn mean(&self) -> f64 {
        self.sum / self.count as f64
    }

    /// Adds one value, without an interval.
    pub(super) fn take(&mut self, value: f64) {
        self.count += 1;
        self.min = self.min.min(value);
        self.max = self.max.max(value);
        self.sum += value;
    }

    /// Adds the line from `before` to `value` over `seconds`.
    fn integrate(&mut self, before: f64, value: f64, seconds: f64) {
        self.covered_s += seconds;
        let (above, below) = areas(before, value, seconds);
        self.positive += above;
        self.negative += below;
    }

    /// Joins the summary of another stretch.
    pub fn merge(&mut self, other: &Summary) {
        self.count += other.count;
        self.covered_s += other.covered_s;
        self.min = self.min.min(other.min);
        self.max = self.max.max(other.max);
        self.sum += other.sum;
        self.positive += other.positive;
        self.negative += other.negative;
    }

    /// Adds a value at a time, with the interval since the last one in `carry`, which moves on.
    pub(super) fn follow(&mut self, carry: &mut Carry, time_ms: i64, value: f64, gap_ms: i64) {
        if value.is_nan() {
            return;
        }
        self.take(value);
        if let Some((before_ms, before)) = carry.replace((time_ms, value))
            && time_ms - before_ms <= gap_ms
        {
            self.integrate(before, value, (time_ms - before_ms) as f64 / 1000.0);
        }
    }
}

/// Summaries of one column by stretches of `span_ms`, those with values only, with the start of each.
pub(super) fn by_span(
    time_ms: &[i64],
    values: &[f64],
    carry: &mut Carry,
    gap_ms: i64,
    span_ms: i64,
) -> Vec<(i64, Summary)> {
    let mut all: Vec<(i64, Summary)> = Vec::new();
    let mut end_ms = i64::MIN;
    for (&time, &value) in time_ms.iter().zip(values) {
        if value.is_nan() {
            continue;
        }
        if time >= end_ms {
            let start = start_of(time, span_ms);
            end_ms = start.saturating_add(span_ms);
            all.push((start, Summary::EMPTY));
        }
        if let Some((_, summary)) = all.last_mut() {
            summary.follow(carry, time, value, gap_ms);
        }
    }
    all
}

/// The same by longer stretches, of which `span_ms` is a multiple of the shorter ones.
pub(super) fn coarser(fine: &[(i64, Summary)], span_ms: i64) -> Vec<(i64, Summary)> {
    fine.chunk_by(|(a, _), (b, _)| start_of(*a, span_ms) == start_of(*b, span_ms))
        .map(|group| {
            let mut whole = Summary::EMPTY;
            for (_, part) in group {
                whole.merge(part);
            }
            (start_of(group[0].0, span_ms), whole)
        })
        .collect()
}

pub(super) fn start_of(time_ms: i64, span_ms: i64) -> i64 {
    time_ms.div_euclid(span_ms) * span_ms
}

/// Power of each sample, from voltage and current; NaN where either is missing.
pub(super) fn power_of(columns: &Columns, voltage: usize, current: usize) -> Vec<f64> {
    let mut power = Vec::new();
    fill_power(columns, voltage, current, &mut power);
    power
}

/// [`power_of`] in place of what `power` held.
pub(super) fn fill_power(columns: &Columns, voltage: usize, current: usize, power: &mut Vec<f64>) {
    let column = |position: usize| columns.channels.get(position).map_or(&[][..], Vec::as_slice);
    power.clear();
    power.extend(column(voltage).iter().zip(column(current)).map(|(voltage_v, current_a)| voltage_v * current_a + 0.0));
    power.resize(columns.time_ms.len(), f64::NAN);
}

#[cfg(test)]
mod tests {
    use super::*;

    fn one(time_ms: &[i64], values: &[f64], gap_ms: i64) -> Summary {
        by_span(time_ms, values, &mut None, gap_ms, DAY_MS)[0].1
    }

    #[test]
    fn the_line_through_zero_gives_each_side_its_own_part() {
        let summary = one(&[0, 4000], &[-1.0, 3.0], 10_000);
        assert!((summary.negative - -0.5).abs() < 1e-12);
        assert!((summary.positive - 4.5).abs() < 1e-12);
        assert!((summary.covered_s - 4.0).abs() < 1e-12);
    }

    #[test]
    fn nothing_is_integrated_over_a_gap() {
        let summary = one(&[0, 1000, 60_000, 61_000], &[5.0; 4], 10_000);
        assert!((summary.covered_s - 2.0).abs() < 1e-12);
        assert!((summary.positive - 10.0).abs() < 1e-12);
    }

    #[test]
    fn parts_add_up_to_the_whole() {
        let time_ms: Vec<i64> = (0..5000).map(|s| s * 700 + s % 3).collect();
        let values: Vec<f64> = (0..5000).map(|s| if s % 7 == 0 { f64::NAN } else { f64::from(s % 11) - 5.0 }).collect();
        let minutes = by_span(&time_ms, &values, &mut None, 2000, MINUTE_MS);
        assert!(minutes.len() > 50);
        let whole = coarser(&minutes, DAY_MS)[0].1;
        let direct = one(&time_ms, &values, 2000);
        assert_eq!(whole.count, direct.count);
        assert!((whole.covered_s - direct.covered_s).abs() < 1e-9);
        assert!((whole.positive - direct.positive).abs() < 1e-9);
        assert!((whole.negative - direct.negative).abs() < 1e-9);
        assert!((whole.mean() - direct.mean()).abs() < 1e-12);
    }
}
