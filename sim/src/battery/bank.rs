//! A bank: monoblocs in series that share one current, one temperature and one age.

use super::constants::{HOUR_S, REFERENCE_C};
use super::{Ageing, Monobloc, Terminal, ThermalMass};
use serde::{Deserialize, Serialize};

/// What is asked of a bank for one step.
#[derive(Clone, Copy, Debug)]
pub struct Request {
    /// Net current wanted: loads (negative) plus all that the sources could give, A.
    pub current_a: f64,
    /// Net current left when every source is throttled to nothing, A; at most `current_a`.
    pub floor_a: f64,
    /// Bank voltage at which sources begin to throttle, V.
    pub max_charge_v: f64,
    /// Bank voltage at which loads are cut, V.
    pub min_discharge_v: f64,
}

impl Request {
    /// A plain current, bound only by what the monoblocs allow.
    pub fn current(current_a: f64) -> Self {
        Self { current_a, floor_a: current_a.min(0.0), max_charge_v: f64::MAX, min_discharge_v: 0.0 }
    }
}

/// The fixed facts of a bank.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct BankSpec {
    /// Nameplate capacity at the 20 h rate, Ah.
    pub rated_capacity_ah: f64,
    /// Bank voltage at which a discharge for capacity ends, V.
    pub empty_v: f64,
    /// No monobloc is charged above this, V.
    pub monobloc_max_v: f64,
    /// No monobloc is discharged below this, V.
    pub monobloc_min_v: f64,
}

/// Monoblocs in series, with their truth.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Bank<M> {
    spec: BankSpec,
    monoblocs: Vec<M>,
    thermal: ThermalMass,
    ageing: Ageing,
    current_a: f64,
    voltage_v: f64,
    slope_ohm: f64,
    measured_ah: f64,
    measured_at: f64,
}

/// Fade after which the capacity is measured again; between measurements it follows the fade in proportion.
const REMEASURE_FADE: f64 = 0.005;

impl<M: Monobloc> Bank<M> {
    /// A bank of these monoblocs. Its capacity is found by discharging a copy of it at the 20 h rate.
    pub fn new(spec: BankSpec, monoblocs: Vec<M>, thermal: ThermalMass, ageing: Ageing) -> Self {
        let mut bank = Self {
            spec,
            monoblocs,
            thermal,
            measured_at: ageing.capacity_factor(),
            ageing,
            current_a: 0.0,
            voltage_v: 0.0,
            slope_ohm: 0.0,
            measured_ah: 0.0,
        };
        bank.voltage_v = bank.monoblocs.iter().map(Monobloc::voltage_v).sum();
        bank.measured_ah = bank.deliverable_ah(bank.spec.rated_capacity_ah / 20.0, REFERENCE_C);
        bank
    }

    /// Advances by `dt_s` in air of `ambient_c`; returns the current that really flowed, A.
    pub fn step(&mut self, dt_s: f64, request: Request, ambient_c: f64) -> f64 {
        let current_a = self.step_at_temperature(dt_s, request);
        let heat_w: f64 = self.monoblocs.iter_mut().map(|monobloc| monobloc.commit(dt_s)).sum();
        self.voltage_v = self.monoblocs.iter().map(Monobloc::voltage_v).sum();
        self.current_a = current_a;
        self.thermal.step(dt_s, heat_w, ambient_c);
        let moved = current_a * dt_s / HOUR_S / self.measured_ah;
        self.ageing.step(dt_s, moved, self.thermal.temperature_c(), self.true_soc());
        if (self.measured_at - self.ageing.capacity_factor()).abs() > REMEASURE_FADE {
            self.measured_ah = self.deliverable_ah(self.spec.rated_capacity_ah / 20.0, REFERENCE_C);
            self.measured_at = self.ageing.capacity_factor();
        }
        current_a
    }

    /// Prepares the monoblocs and leaves them probed at the current that the limits allow.
    fn step_at_temperature(&mut self, dt_s: f64, request: Request) -> f64 {
        let temperature_c = self.thermal.temperature_c();
        for monobloc in &mut self.monoblocs {
            monobloc.prepare(dt_s, temperature_c, &self.ageing);
        }
        let wanted_a = request.current_a;
        let probe = self.probe(wanted_a);
        if self.above(&probe, request.max_charge_v).0 > 0.0 && request.floor_a < wanted_a {
            self.search(request.floor_a, wanted_a, |bank, probe| bank.above(probe, request.max_charge_v))
        } else if wanted_a < 0.0 && self.below(&probe, request.min_discharge_v).0 < 0.0 {
            self.search(wanted_a, 0.0, |bank, probe| bank.below(probe, request.min_discharge_v))
        } else {
            wanted_a
        }
    }

    fn probe(&mut self, current_a: f64) -> Probe {
        let mut probe = Probe {
            highest: Terminal { voltage_v: f64::MIN, slope_ohm: 0.0 },
            lowest: Terminal { voltage_v: f64::MAX, slope_ohm: 0.0 },
            sum: Terminal::default(),
        };
        for monobloc in &mut self.monoblocs {
            let terminal = monobloc.probe(current_a);
            probe.sum.voltage_v += terminal.voltage_v;
            probe.sum.slope_ohm += terminal.slope_ohm;
            if terminal.voltage_v > probe.highest.voltage_v {
                probe.highest = terminal;
            }
            if terminal.voltage_v < probe.lowest.voltage_v {
                probe.lowest = terminal;
            }
        }
        self.slope_ohm = probe.sum.slope_ohm;
        probe
    }

    /// Volts above the upper limit that binds most, and slope.
    fn above(&self, probe: &Probe, limit_v: f64) -> (f64, f64) {
        let (bank, one) = (probe.sum.voltage_v - limit_v, probe.highest.voltage_v - self.spec.monobloc_max_v);
        if bank >= one { (bank, probe.sum.slope_ohm) } else { (one, probe.highest.slope_ohm) }
    }

    /// Volts above the lower limit that binds most (negative when below it), and slope.
    fn below(&self, probe: &Probe, limit_v: f64) -> (f64, f64) {
        let (bank, one) = (probe.sum.voltage_v - limit_v, probe.lowest.voltage_v - self.spec.monobloc_min_v);
        if bank <= one { (bank, probe.sum.slope_ohm) } else { (one, probe.lowest.slope_ohm) }
    }

    /// The current in `low..high` at which the margin (rising with current) is nought, or the end nearest to it. Newton in a bracket.
    fn search(&mut self, mut low: f64, mut high: f64, margin: impl Fn(&Self, &Probe) -> (f64, f64)) -> f64 {
        let (floor, ceiling) = (low, high);
        let mut current_a = self.current_a.clamp(low, high);
        // Halving alone brings 1000 A within the last test in 40 rounds.
        for _ in 0..50 {
            let probe = self.probe(current_a);
            let (excess_v, slope_ohm) = margin(self, &probe);
            if excess_v.abs() < 1e-5 || high - low < 1e-9 {
                return current_a;
            }
            if excess_v > 0.0 {
                high = current_a
            } else {
                low = current_a
            }
            let newton = current_a - excess_v / slope_ohm;
            let next = if newton <= floor && low <= floor {
                floor
            } else if newton >= ceiling && high >= ceiling {
                ceiling
            } else {
                newton
            };
            current_a = if (low..=high).contains(&next) { next } else { 0.5 * (low + high) };
        }
        self.probe(current_a);
        current_a
    }

    /// Charge that comes out of a full and rested copy of the bank, as aged as now, held at a temperature and a current until empty, Ah.
    pub fn deliverable_ah(&self, current_a: f64, temperature_c: f64) -> f64 {
        let mut copy = self.clone();
        copy.fill();
        copy.drain_ah(current_a, temperature_c)
    }

    /// Draws `current_a` at a held temperature until the bank or a monobloc is empty; returns the charge drawn, Ah.
    pub fn drain_ah(&mut self, current_a: f64, temperature_c: f64) -> f64 {
        self.thermal.set_temperature_c(temperature_c);
        // A thousand steps for a discharge at its nominal length: the end is found to 0.1 %, and the last step is cut by the limit.
        let dt_s = (self.spec.rated_capacity_ah / current_a * HOUR_S / 1000.0).max(1.0);
        let request = Request {
            current_a: -current_a,
            floor_a: -current_a,
            max_charge_v: f64::MAX,
            min_discharge_v: self.spec.empty_v,
        };
        let mut drawn_ah = 0.0;
        loop {
            let flowed_a = self.step_at_temperature(dt_s, request);
            if flowed_a > -0.999 * current_a {
                break drawn_ah;
            }
            for monobloc in &mut self.monoblocs {
                // The temperature is held, so the heat goes nowhere.
                let _ = monobloc.commit(dt_s);
            }
            self.voltage_v = self.monoblocs.iter().map(Monobloc::voltage_v).sum();
            drawn_ah += current_a * dt_s / HOUR_S;
        }
    }

    /// Makes every monobloc full and rested.
    pub fn fill(&mut self) {
        self.monoblocs.iter_mut().for_each(Monobloc::fill);
    }

    /// Charge held / capacity. 1 is full; it may fall just below 0 when drawn more slowly than in 20 h.
    pub fn true_soc(&self) -> f64 {
        1.0 - self.discharged_ah() / self.true_capacity_ah()
    }

    /// Capacity at the 20 h rate and 25 °C at the present age, Ah.
    pub fn true_capacity_ah(&self) -> f64 {
        self.measured_ah * self.ageing.capacity_factor() / self.measured_at
    }

    /// Charge missing from full, the mean over the monoblocs, Ah.
    pub fn discharged_ah(&self) -> f64 {
        self.monoblocs.iter().map(Monobloc::discharged_ah).sum::<f64>() / self.monoblocs.len() as f64
    }

    /// Charge gone through side reactions since new, the mean over the monoblocs, Ah.
    pub fn side_ah(&self) -> f64 {
        self.monoblocs.iter().map(Monobloc::side_ah).sum::<f64>() / self.monoblocs.len() as f64
    }

    /// Current of the last step, A.
    pub fn current_a(&self) -> f64 {
        self.current_a
    }

    /// Voltage at the end of the last step, V.
    pub fn voltage_v(&self) -> f64 {
        self.voltage_v
    }

    /// Change of voltage for one ampere more held over the last step, ohm; positive.
    pub fn slope_ohm(&self) -> f64 {
        self.slope_ohm
    }

    /// Temperature, °C.
    pub fn temperature_c(&self) -> f64 {
        self.thermal.temperature_c()
    }

    /// Voltage of each monobloc, V.
    pub fn monobloc_voltages_v(&self) -> impl Iterator<Item = f64> + '_ {
        self.monoblocs.iter().map(Monobloc::voltage_v)
    }

    /// Its age.
    pub fn ageing(&self) -> &Ageing {
        &self.ageing
    }

    /// Its age, to tell one that is scripted.
    pub fn ageing_mut(&mut self) -> &mut Ageing {
        &mut self.ageing
    }

    /// Its monoblocs in order.
    pub fn monoblocs(&self) -> &[M] {
        &self.monoblocs
    }

    /// Its monoblocs in order, to age one apart from the others.
    pub fn monoblocs_mut(&mut self) -> &mut [M] {
        &mut self.monoblocs
    }

    /// Its fixed facts.
    pub fn spec(&self) -> &BankSpec {
        &self.spec
    }
}

struct Probe {
    sum: Terminal,
    highest: Terminal,
    lowest: Terminal,
}
