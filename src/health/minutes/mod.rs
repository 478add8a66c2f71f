//! Minutes of a bank from the samples of its devices.
//!
//! Charge and energy follow the store's own rule: straight lines between the samples of a channel, the interval between two
//! belongs to the later one and counts only up to the device's gap. So the minutes of an hour add up to the hour's sums.

mod lane;

use lane::{Flow, Means};

use crate::quantity::{BandedSoc, MINUTE_MS, Minute, Moment};

/// Knots in a metre a second: 1 kn = 1852/3600 m/s (SI brochure, 9th ed., table 8).
const KNOTS: f64 = 3600.0 / 1852.0;
/// No string has more monoblocs or cells than this.
const MOST_MONOBLOCS: usize = 512;

/// What a channel beside voltage, current and temperature is in a [`Minute`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Lane {
    /// Voltage of a monobloc or cell, by its place.
    Monobloc(usize),
    /// Current of a branch that is measured by itself, by its place.
    Branch {
        /// Its place among those with a channel.
        place: usize,
        /// True where a positive reading discharges.
        reversed: bool,
    },
    /// Speed over ground.
    Speed {
        /// Knots in the channel's unit.
        knots: f64,
    },
    /// Contact of a balancer: 1 while closed.
    Balancer,
}

impl Lane {
    /// What a channel is by its name alone; a branch is one by the configuration.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Lane> {
        match name {
            "speed_over_ground_kn" => Some(Lane::Speed { knots: 1.0 }),
            "speed_over_ground_m_s" => Some(Lane::Speed { knots: KNOTS }),
            "balancer" => Some(Lane::Balancer),
            _ => monobloc_place(name).map(|(place, _)| Lane::Monobloc(place)),
        }
    }
}

/// The place, from 0, of a monobloc (`monobloc_1_v` is the first) or cell (`cell_1_v`), and whether it is a cell.
#[must_use]
pub fn monobloc_place(channel: &str) -> Option<(usize, bool)> {
    let stem = channel.strip_suffix("_v")?;
    let monobloc = stem.strip_prefix("monobloc_").map(|number| (number, false));
    let (number, is_cell) = monobloc.or_else(|| stem.strip_prefix("cell_").map(|number| (number, true)))?;
    let number: usize = number.parse().ok().filter(|number| (1..=MOST_MONOBLOCS).contains(number))?;
    Some((number - 1, is_cell))
}

/// Samples of the main device in one minute, in columns; NaN where there is no value.
#[derive(Debug, Clone, Copy)]
pub struct MainRows<'a> {
    /// Monotonic time, ms, rising.
    pub time_ms: &'a [i64],
    /// Voltage, V.
    pub voltage_v: &'a [f64],
    /// Current, A.
    pub current_a: &'a [f64],
    /// Temperature, °C; empty if the device has none.
    pub temperature_c: &'a [f64],
}

/// Puts minutes together. All samples of a minute are given, of every device, and then it is closed.
#[derive(Debug, Clone, Default)]
pub struct MinuteBuilder {
    gap_ms: i64,
    voltage: Flow,
    current: Flow,
    power: Flow,
    temperature: Means,
    monobloc: Vec<Flow>,
    branch: Vec<(Means, f64)>,
    speed: (Means, f64),
    balancer: Means,
    /// Whether the main device had a sample in this minute.
    heard: bool,
    /// Time before the minute that its first interval covers, ms.
    reached_back_ms: i64,
    /// The end of the minute before.
    end: Option<Moment>,
}

impl MinuteBuilder {
    /// For a bank with so many monoblocs and branches that are measured by themselves, whose main device's samples have a
    /// gap between them where they are further apart than `gap_ms`. `end` is where the last minute ended that was built
    /// before, if one was.
    #[must_use]
    pub fn new(gap_ms: i64, monoblocs: usize, branches: usize, end: Option<Moment>) -> MinuteBuilder {
        MinuteBuilder {
            gap_ms,
            monobloc: vec![Flow::default(); monoblocs],
            branch: vec![(Means::default(), 1.0); branches],
            end,
            ..MinuteBuilder::default()
        }
    }

    /// Takes the main device's samples of the minute that begins at `start_ms`.
    pub fn main(&mut self, start_ms: i64, rows: &MainRows<'_>) {
        let MainRows { time_ms, voltage_v, current_a, temperature_c } = *rows;
        let Some(&first) = time_ms.first() else { return };
        if !self.heard {
            let reach = self.current.last_ms().filter(|last| first - last <= self.gap_ms);
            self.reached_back_ms = reach.map_or(0, |last| (start_ms - last).max(0));
        }
        self.heard = true;
        for ((&time, &voltage_v), &current_a) in time_ms.iter().zip(voltage_v).zip(current_a) {
            self.voltage.take(time, voltage_v, self.gap_ms);
            self.current.take(time, current_a, self.gap_ms);
            self.power.take(time, voltage_v * current_a, self.gap_ms);
        }
        self.temperature.take(time_ms, temperature_c, self.gap_ms);
    }

    /// Takes samples of another channel in the minute, of a device with this gap.
    pub fn lane(&mut self, lane: Lane, gap_ms: i64, time_ms: &[i64], values: &[f64]) {
        let (means, factor) = match lane {
            Lane::Monobloc(place) => {
                if let Some(flow) = self.monobloc.get_mut(place) {
                    time_ms.iter().zip(values).for_each(|(&time, &value)| flow.take(time, value, gap_ms));
                }
                return;
            }
            Lane::Branch { place, reversed } => {
                let sign = if reversed { -1.0 } else { 1.0 };
                let branch = self.branch.get_mut(place);
                branch.map_or((None, None), |(means, factor)| (Some(means), Some((factor, sign))))
            }
            Lane::Speed { knots } => (Some(&mut self.speed.0), Some((&mut self.speed.1, knots))),
            Lane::Balancer => (Some(&mut self.balancer), None),
        };
        if let Some((factor, to)) = factor {
            *factor = to;
        }
        if let Some(means) = means {
            means.take(time_ms, values, gap_ms);
        }
    }

    /// Closes the minute that begins at `at`; `None` if the main device had no sample in it. `soc` is the state of charge as
    /// reckoned then. In another boot than the minute before, `off_s` is the time in between, if it is known.
    pub fn close(&mut self, at: Moment, soc: Option<BandedSoc>, off_s: Option<f64>) -> Option<Minute> {
        let monobloc_v = self.monobloc.iter_mut().map(|flow| flow.close().spread).collect();
        let scaled = |(means, factor): &mut (Means, f64)| means.close().map(|mean| mean * *factor);
        let branch_a = self.branch.iter_mut().map(scaled).collect();
        let speed_kn = scaled(&mut self.speed);
        let balancing = self.balancer.close();
        if !std::mem::take(&mut self.heard) {
            return None;
        }
        let (current, power) = (self.current.close(), self.power.close());
        let before = self.end.replace(Moment { mono: at.mono + MINUTE_MS, ..at });
        let unseen_s = match before {
            Some(end) if end.boot == at.boot => {
                let between = at.mono.seconds_since(end.mono);
                Some((between - seconds(self.reached_back_ms)).max(0.0))
            }
            Some(_) => off_s,
            None => None,
        };
        Some(Minute {
            at,
            unseen_s,
            covered_s: current.covered_s,
            voltage_v: self.voltage.close().spread,
            current_a: current.spread,
            power_w: power.spread,
            temperature_c: self.temperature.close(),
            charge_in_ah: current.above / 3600.0,
            charge_out_ah: 0.0 - current.below / 3600.0,
            energy_in_wh: power.above / 3600.0,
            energy_out_wh: 0.0 - power.below / 3600.0,
            monobloc_v,
            branch_a,
            speed_kn,
            balancing,
            soc,
        })
    }

    /// Leaves a minute, which was built before, but for the last reading of each channel, from which the first interval of
    /// the next one runs.
    pub fn leave(&mut self, at: Moment) {
        let end = self.end;
        self.close(at, None, None);
        self.end = end;
    }
}

#[expect(clippy::cast_precision_loss, reason = "milliseconds, far below 2^53")]
fn seconds(ms: i64) -> f64 {
    ms as f64 / 1000.0
}

#[cfg(test)]
mod tests;
