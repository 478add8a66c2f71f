//! What a passage comes to, from its samples and the line of its state of charge.

mod charge;
mod extremes;

use charge::ChargeLine;
use extremes::Extremes;

use super::record::Summary;
use super::sketch::Sketch;
use crate::health::Aboard;
use crate::quantity::{BandedSoc, Moment, Reading, areas};

/// Gathers a passage, sample by sample, in lived order. Integrals are those of the store: straight lines between samples, the
/// interval between two samples of a quantity belongs to the later one, and one that is longer than the gap counts for nothing.
#[derive(Debug, Clone)]
pub struct SummaryBuilder {
    gap_ms: i64,
    rated_ah: f64,
    charge: Integrated,
    energy: Integrated,
    voltage: Extremes,
    current: Extremes,
    power: Extremes,
    temperature: Extremes,
    load: Load,
    line: ChargeLine,
    speed: Option<Integrated>,
}

/// A quantity over time.
#[derive(Debug, Clone, Copy, Default)]
struct Integrated {
    before: Option<(Moment, f64)>,
    covered_s: f64,
    /// Integrals of the parts above and below zero, unit seconds.
    above: f64,
    below: f64,
}

impl Integrated {
    /// Takes the next value; gives the seconds since the one before, `None` over a gap.
    fn take(&mut self, at: Moment, value: f64, gap_ms: i64) -> Option<f64> {
        let (before_at, before) = self.before.replace((at, value))?;
        let dt_s = interval_s(before_at, at, gap_ms)?;
        let (above, below) = areas(before, value, dt_s);
        self.covered_s += dt_s;
        self.above += above;
        self.below += below;
        Some(dt_s)
    }
}

/// Seconds between two moments of one boot that are no more than a gap apart.
fn interval_s(before: Moment, at: Moment, gap_ms: i64) -> Option<f64> {
    let ms = at.mono - before.mono;
    (before.boot == at.boot && (0..=gap_ms).contains(&ms)).then(|| at.mono.seconds_since(before.mono))
}

/// Discharge: how long, and how hard.
#[derive(Debug, Clone, Default)]
struct Load {
    seconds: f64,
    charge_as: f64,
    above_c5_s: f64,
    above_c2_s: f64,
    above_1c_s: f64,
    spread: Sketch,
}

impl Load {
    fn add(&mut self, load_a: f64, dt_s: f64, rated_ah: f64) {
        self.seconds += dt_s;
        self.charge_as += load_a * dt_s;
        self.spread.add(load_a, dt_s);
        for (part, seconds) in [(0.2, &mut self.above_c5_s), (0.5, &mut self.above_c2_s), (1.0, &mut self.above_1c_s)] {
            if load_a > part * rated_ah {
                *seconds += dt_s;
            }
        }
    }
}

impl SummaryBuilder {
    /// Nothing yet. `gap_ms` is the longest interval between samples that is none (of the store's series).
    #[must_use]
    pub fn new(aboard: &Aboard<'_>, gap_ms: i64) -> SummaryBuilder {
        SummaryBuilder {
            gap_ms,
            rated_ah: aboard.bank.rated_capacity_ah,
            charge: Integrated::default(),
            energy: Integrated::default(),
            voltage: Extremes::default(),
            current: Extremes::default(),
            power: Extremes::default(),
            temperature: Extremes::default(),
            load: Load::default(),
            line: ChargeLine::new(aboard.bank.reserve),
            speed: None,
        }
    }

    /// The last sample before the passage, if it is to be followed from there: the interval from it to the first sample of the
    /// passage then belongs to the passage, as it does in the store's sums.
    pub fn follow_on(&mut self, at: Moment, reading: &Reading) {
        let Reading { voltage_v, current_a, .. } = *reading;
        self.charge.before = current_a.is_finite().then_some((at, current_a));
        let power_w = voltage_v * current_a;
        self.energy.before = power_w.is_finite().then_some((at, power_w));
    }

    /// Takes a sample. A value that is not finite is a missing one.
    pub fn reading(&mut self, at: Moment, reading: &Reading) {
        let Reading { voltage_v, current_a, temperature_c, .. } = *reading;
        self.voltage.take(at, voltage_v);
        self.temperature.take(at, temperature_c.unwrap_or(f64::NAN));
        if current_a.is_finite() {
            self.current.take(at, current_a);
            let dt_s = self.charge.take(at, current_a, self.gap_ms);
            if let Some(dt_s) = dt_s.filter(|_| current_a < 0.0) {
                self.load.add(-current_a, dt_s, self.rated_ah);
            }
        }
        let power_w = voltage_v * current_a;
        if power_w.is_finite() {
            self.power.take(at, power_w);
            self.energy.take(at, power_w, self.gap_ms);
        }
    }

    /// Takes the next point of the line of the state of charge: the reconciled one, or where it does not reach, the reckoned one.
    pub fn charge(&mut self, at: Moment, soc: BandedSoc) {
        self.line.take(at, soc);
    }

    /// Takes a speed over ground, knots; `gap_ms` is that of its own series.
    pub fn speed(&mut self, at: Moment, speed_kn: f64, gap_ms: i64) {
        if speed_kn.is_finite() {
            self.speed.get_or_insert_default().take(at, speed_kn, gap_ms);
        }
    }

    /// The summary. `duration_s` is by the clock, if both ends can be placed in time; `reconciled`: whether every point of the
    /// line was of the reconciled history.
    #[must_use]
    pub fn finish(self, duration_s: Option<f64>, reconciled: bool) -> Summary {
        let Load { seconds, charge_as, above_c5_s, above_c2_s, above_1c_s, spread } = self.load;
        let lowest = self.line.lowest;
        Summary {
            duration_s,
            covered_s: self.charge.covered_s,
            charge_in_ah: self.charge.above / 3600.0,
            charge_out_ah: 0.0 - self.charge.below / 3600.0,
            energy_in_wh: self.energy.above / 3600.0,
            energy_out_wh: 0.0 - self.energy.below / 3600.0,
            soc_begin: self.line.first,
            soc_end: self.line.last.map(|(_, soc)| soc),
            soc_lowest: lowest.map(|(_, soc)| soc),
            soc_lowest_at: lowest.map(|(at, _)| at),
            reconciled: reconciled && lowest.is_some(),
            voltage_min: self.voltage.min,
            voltage_max: self.voltage.max,
            current_min: self.current.min,
            current_max: self.current.max,
            power_min: self.power.min,
            power_max: self.power.max,
            temperature_min: self.temperature.min,
            temperature_max: self.temperature.max,
            above_c5_s,
            above_c2_s,
            above_1c_s,
            deep_excursions: self.line.deep.count,
            mean_load_a: (seconds > 0.0).then(|| charge_as / seconds),
            load_95_a: spread.quantile(0.95),
            below_reserve_s: self.line.below_reserve_s,
            distance_nm: self.speed.map(|speed| speed.above / 3600.0),
        }
    }
}

#[cfg(test)]
mod tests;
