//! What the filter assumes of a bank: all from its description and its chemistry's preset, per cell and per ampere-hour.

use crate::battery::{Bank, RateSource, TwoWell, VoltagePreset};

/// Places of the quantities in the filter's state. Rates are A per Ah of rated capacity, voltages those of one cell.
pub mod at {
    /// State of charge, 0..1.
    pub const CHARGE: usize = 0;
    /// Gap between the wells, in parts of the capacity; positive: bound beyond balance.
    pub const GAP: usize = 1;
    /// What the current sensor reads at zero, A per Ah.
    pub const OFFSET: usize = 2;
    /// Natural logarithm of capacity over rated capacity.
    pub const CAPACITY: usize = 3;
    /// Charging losses in parts of the preset's.
    pub const LOSS: usize = 4;
    /// Natural logarithm of resistance over the preset's.
    pub const RESISTANCE: usize = 5;
    /// Its error of the hour (charge, temperature, history), added to the former.
    pub const RESISTANCE_COLOUR: usize = 6;
    /// Error of the voltage model that comes and goes, V.
    pub const VOLTAGE_COLOUR: usize = 7;
    /// Shift of the knee at the empty end, in parts of the capacity.
    pub const KNEE: usize = 8;
    /// First of the knots of the correction to the rest-voltage curve, V.
    pub const SHAPE: usize = 9;

    /// Whether a quantity is learned over weeks, and told by the charge.
    pub fn is_learned(place: usize) -> bool {
        matches!(place, OFFSET | CAPACITY | LOSS) || place >= KNEE
    }
}

/// Knots of the curve's correction, even from empty to full.
pub const KNOTS: usize = 25;
/// Quantities in all.
pub const N: usize = at::SHAPE + KNOTS;

/// 1 σ of a capacity that nobody has measured, ratio. Assumed: as much as leaves the band of a bank drawn by two thirds at
/// five points, which is the goal; a bank 15 % off its description is then far outside, and its band does not hold until a
/// discharge to the cut-off.
pub const CAPACITY_STD_DEV: f64 = 0.032;
/// 1 σ of the charging losses against the preset's (assumed: they can be nil, and four times as many).
const LOSS_STD_DEV: f64 = 1.5;
/// Resistance error of the hour: about a quarter, for hours (assumed).
pub const RESISTANCE_COLOUR: f64 = 0.2;
/// See above, s.
pub const RESISTANCE_COLOUR_S: f64 = 2.0 * 3600.0;
/// Gap at a start of which nothing is known, in parts of the capacity, 1 σ (assumed).
const GAP_STD_DEV: f64 = 0.01;

/// The bank as the filter sees it.
#[derive(Debug, Clone)]
pub struct Model {
    /// Rated capacity, Ah.
    pub rated_ah: f64,
    /// Cells in series.
    pub cells: f64,
    /// What the voltage says.
    pub voltage: VoltagePreset,
    /// The wells.
    pub wells: TwoWell,
    /// Charge in the wells below the rated empty, in parts of the rated capacity.
    pub below: f64,
    /// Self-discharge, 1/h.
    pub self_discharge_per_h: f64,
}

impl Model {
    /// The model of a bank.
    #[must_use]
    pub fn of(bank: &Bank) -> Model {
        let preset = bank.preset();
        let wells = wells_of(bank);
        Model {
            rated_ah: bank.rated_capacity_ah,
            cells: f64::from(bank.cells_in_series),
            voltage: preset.voltage,
            wells,
            below: wells.whole(bank.rated_hours) - 1.0,
            self_discharge_per_h: preset.self_discharge_per_day / 24.0,
        }
    }

    /// Rate at which the gap closes at a temperature, 1/h: diffusion slows in the cold.
    #[must_use]
    pub fn relax_per_h(&self, temperature_c: f64) -> f64 {
        self.wells.k_per_h * (-self.voltage.diffusion_per_k * (25.0 - temperature_c)).exp()
    }

    /// Resistance of a cell times its capacity at a temperature, before what is learned, Ω·Ah.
    #[must_use]
    pub fn resistance(&self, temperature_c: f64) -> f64 {
        self.voltage.resistance_ohm_ah * (self.voltage.resistance_per_k * (25.0 - temperature_c)).exp()
    }

    /// Losses of a usual recharge at 25 °C, in parts of the charge put in: half the capacity, finished in four hours at
    /// 2.40 V where there is gas (assumed; it only scales what is shown).
    #[must_use]
    pub fn typical_loss(&self) -> f64 {
        self.voltage.bulk_loss + self.voltage.gassing.map_or(0.0, |gassing| gassing.rate(2.40, 25.0) * 4.0 / 0.5)
    }

    /// Standard deviations of the quantities when nothing but the description is known, and the covariance of the curve's
    /// correction.
    #[must_use]
    pub fn prior(&self, bank: &Bank, charge_std_dev: f64) -> super::Normal {
        let mut mean = [0.0; N];
        mean[at::LOSS] = 1.0;
        let mut std_dev = [0.0; N];
        std_dev[at::CHARGE] = charge_std_dev;
        std_dev[at::GAP] = GAP_STD_DEV;
        std_dev[at::OFFSET] = bank.sensor.offset_a / bank.rated_capacity_ah;
        std_dev[at::CAPACITY] = CAPACITY_STD_DEV.hypot(bank.sensor.gain);
        std_dev[at::LOSS] = LOSS_STD_DEV;
        std_dev[at::RESISTANCE] = self.voltage.resistance_ln_std_dev;
        std_dev[at::RESISTANCE_COLOUR] = RESISTANCE_COLOUR;
        std_dev[at::VOLTAGE_COLOUR] = self.voltage.colour_v;
        std_dev[at::KNEE] = self.voltage.shape.knee;
        let mut normal = super::Normal::independent(mean, std_dev);
        let shape = self.voltage.shape;
        for i in 0..KNOTS {
            for j in 0..KNOTS {
                // A little of each knot's own keeps the covariance positive.
                let own = if i == j { (0.05 * shape.wave_v).powi(2) } else { 0.0 };
                normal.covariance[at::SHAPE + i][at::SHAPE + j] = shape.covariance(knot_soc(i), knot_soc(j)) + own;
            }
        }
        normal
    }
}

/// Where a knot lies, state of charge.
pub fn knot_soc(i: usize) -> f64 {
    i as f64 / (KNOTS - 1) as f64
}

/// The knot below a state of charge, the weight of the one above it.
pub fn between_knots(soc: f64) -> (usize, f64) {
    let lower = (1..KNOTS - 1).rev().find(|&i| knot_soc(i) <= soc).unwrap_or(0);
    let place = (soc.clamp(0.0, 1.0) - knot_soc(lower)) * (KNOTS - 1) as f64;
    (lower, place)
}

/// The wells that stand for the bank's capacities against rate.
fn wells_of(bank: &Bank) -> TwoWell {
    let rated = (bank.rated_hours, bank.rated_capacity_ah);
    if let RateSource::Table(table) = bank.rate_curve.source() {
        return TwoWell::fit(table, rated);
    }
    // A law is met where it is used: from the rated hours to one hour.
    let table: Vec<(f64, f64)> = [1.0, 0.5, 0.25, 0.1, 0.05]
        .iter()
        .map(|part| part * bank.rated_hours)
        .filter_map(|hours| {
            let mut ratio = 1.0;
            // Hours and current belong together through the capacity: a few rounds settle it.
            for _ in 0..30 {
                ratio = bank.rate_curve.capacity_ratio(ratio / hours);
            }
            (hours >= 0.5).then_some((hours, ratio * bank.rated_capacity_ah))
        })
        .collect();
    TwoWell::fit(&table, rated)
}
