//! The last few readings, and the level that they show.

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::quantity::{Moment, Reading};

/// Readings that are remembered.
const LENGTH: usize = 6;

/// One reading.
#[derive(Debug, Clone, Copy, Default, Serialize, Deserialize)]
pub(super) struct Point {
    pub mono_ms: i64,
    pub voltage_v: f64,
    pub current_a: f64,
    pub temperature_c: Option<f64>,
}

/// The last readings of one boot, and the voltage of each monobloc with them.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Trace {
    boot: u32,
    points: [Point; LENGTH],
    /// Of each place in `points`, one after the other; NaN where none was read.
    #[serde(serialize_with = "write_gaps", deserialize_with = "read_gaps")]
    monobloc_v: Vec<f64>,
    monoblocs: usize,
    /// Where the next reading goes.
    next: usize,
    count: usize,
}

/// A mean over some readings, with the scatter of single ones.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Level {
    pub last_ms: i64,
    pub voltage_v: f64,
    pub current_a: f64,
    /// NaN where it was not read.
    #[serde(serialize_with = "write_gaps", deserialize_with = "read_gaps")]
    pub monobloc_v: Vec<f64>,
    /// Readings in the mean.
    pub readings: usize,
    /// Greatest distance between two currents, A.
    pub wander_a: f64,
    /// 1 σ of a single voltage, V.
    pub noise_v: f64,
    /// 1 σ of a single voltage of a monobloc, V: the mean of all.
    pub monobloc_noise_v: f64,
    /// 1 σ of a single current, A.
    pub noise_a: f64,
}

impl Trace {
    /// Takes a reading. True if it follows the one before, in the same boot and not too long after.
    pub fn push(&mut self, at: Moment, reading: &Reading, monobloc_v: &[f64], apart_ms: i64) -> bool {
        let follows = self.count > 0
            && self.boot == at.boot.0
            && self.monoblocs == monobloc_v.len()
            && (1..=apart_ms).contains(&(at.mono.0 - self.ago(0).mono_ms));
        if !follows {
            self.boot = at.boot.0;
            self.count = 0;
            if self.monoblocs != monobloc_v.len() || self.monobloc_v.is_empty() {
                self.monoblocs = monobloc_v.len();
                self.monobloc_v = vec![f64::NAN; LENGTH * monobloc_v.len()];
            }
        }
        self.points[self.next] = Point {
            mono_ms: at.mono.0,
            voltage_v: reading.voltage_v,
            current_a: reading.current_a,
            temperature_c: reading.temperature_c,
        };
        let from = self.next * self.monoblocs;
        self.monobloc_v[from..from + self.monoblocs].copy_from_slice(monobloc_v);
        self.next = (self.next + 1) % LENGTH;
        self.count = (self.count + 1).min(LENGTH);
        follows
    }

    /// The reading so many places before the last.
    pub fn ago(&self, places: usize) -> &Point {
        &self.points[self.place(places)]
    }

    /// The voltages of the monoblocs, so many places before the last.
    pub fn monobloc_ago(&self, places: usize) -> &[f64] {
        let from = self.place(places) * self.monoblocs;
        &self.monobloc_v[from..from + self.monoblocs]
    }

    const fn place(&self, places: usize) -> usize {
        (self.next + LENGTH - 1 - places) % LENGTH
    }

    /// The level before the last reading: of all that came before it, no more than `apart_ms` from each other.
    /// `None` of fewer than three.
    pub fn level_before(&self, apart_ms: i64) -> Option<Level> {
        let mut readings = 0;
        while readings + 1 < self.count
            && (readings == 0 || self.ago(readings).mono_ms - self.ago(readings + 1).mono_ms <= apart_ms)
        {
            readings += 1;
        }
        if readings < 3 {
            return None;
        }
        let over = |of: &dyn Fn(usize) -> f64| Spread::of((1..=readings).map(of));
        let voltage = over(&|places| self.ago(places).voltage_v);
        let current = over(&|places| self.ago(places).current_a);
        let monoblocs: Vec<Spread> =
            (0..self.monoblocs).map(|m| over(&|places| self.monobloc_ago(places)[m])).collect();
        let known = monoblocs.iter().filter(|spread| spread.noise.is_finite());
        Some(Level {
            last_ms: self.ago(1).mono_ms,
            voltage_v: voltage.mean,
            current_a: current.mean,
            readings,
            wander_a: current.width,
            noise_v: voltage.noise,
            noise_a: current.noise,
            monobloc_noise_v: known.clone().map(|s| s.noise).sum::<f64>() / (known.count().max(1) as f64),
            monobloc_v: monoblocs.iter().map(|spread| spread.mean).collect(),
        })
    }
}

/// Mean, width, and scatter from one value to the next, which a slow change does not add to.
struct Spread {
    mean: f64,
    width: f64,
    noise: f64,
}

impl Spread {
    fn of(values: impl Iterator<Item = f64> + Clone) -> Spread {
        let n = values.clone().count() as f64;
        let squares: f64 = values.clone().zip(values.clone().skip(1)).map(|(a, b)| (a - b) * (a - b)).sum();
        let high = values.clone().fold(f64::NEG_INFINITY, f64::max);
        let low = values.clone().fold(f64::INFINITY, f64::min);
        Spread { mean: values.sum::<f64>() / n, width: high - low, noise: (squares / (2.0 * (n - 1.0))).sqrt() }
    }
}

/// JSON knows no NaN: a missing voltage is `null` there.
pub(super) fn write_gaps<S: Serializer>(values: &[f64], to: S) -> Result<S::Ok, S::Error> {
    to.collect_seq(values.iter().map(|value| value.is_finite().then_some(*value)))
}

pub(super) fn read_gaps<'de, D: Deserializer<'de>>(from: D) -> Result<Vec<f64>, D::Error> {
    let values = Vec::<Option<f64>>::deserialize(from)?;
    Ok(values.into_iter().map(|value| value.unwrap_or(f64::NAN)).collect())
}
