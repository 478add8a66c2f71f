//! What the terminal voltage says: its expectation, its derivative, and how much of it is noise.
//!
//! Constants that name no source are assumed.

use super::Normal;
use super::model::{Model, at, between_knots};
use crate::reckoning::gaussian::Part;

/// Error of each averaged reading, V² s a cell: 2 mV over 10 s (assumed: converter, ripple, cable).
const WHITE_V2_S: f64 = 0.002 * 0.002 * 10.0;
/// Overvoltage that no resistance explains, in parts of the resistive one, and how long such an error stays, s (assumed).
const RATE_DOUBT: f64 = 0.12;
const RATE_DOUBT_S: f64 = 600.0;
/// Doubt in the surface charge, in parts of the gap, and how long such an error stays, s (assumed).
const GAP_DOUBT: f64 = 0.3;
const GAP_DOUBT_S: f64 = 1800.0;
/// Slope of the rest voltage that is believed at most, V per unit of charge: beyond, the end of the curve is a wall.
const STEEPEST: f64 = 12.0;

/// Mean conditions over a window.
#[derive(Debug, Clone, Copy)]
pub struct Conditions {
    /// Rate as measured, A per Ah, positive charging.
    pub rate: f64,
    /// Temperature, °C.
    pub temperature_c: f64,
    /// How much of the surface charge of the last charging is left, 0..1.
    pub surface: f64,
    /// Length, s.
    pub seconds: f64,
}

/// The expectation of a cell's voltage.
#[derive(Debug, Clone)]
pub struct Expected {
    /// V.
    pub cell_v: f64,
    /// Its derivative.
    pub row: Vec<Part>,
    /// Variance of the window's mean that the state does not explain, V².
    pub noise_v2: f64,
}

/// Expects the mean voltage of a window.
pub fn expect(model: &Model, normal: &Normal, conditions: Conditions) -> Expected {
    let x = &normal.mean;
    let voltage = &model.voltage;
    let knee_weight = ((voltage.shape.knee_below - x[at::CHARGE]) / voltage.shape.knee_below).clamp(0.0, 1.0);
    let surface_soc = x[at::CHARGE] - x[at::GAP];
    let curve = Linearised::of(model, surface_soc + x[at::KNEE] * knee_weight, surface_std_dev(normal));
    let slope = curve.slope.min(STEEPEST);
    let (lower, weight) = between_knots(surface_soc);
    let (low_v, high_v) = (x[at::SHAPE + lower], x[at::SHAPE + lower + 1]);
    let knots = (super::model::KNOTS - 1) as f64;
    let shape_slope = if (0.0..=1.0).contains(&surface_soc) { (high_v - low_v) * knots } else { 0.0 };
    // A curve that falls while charge rises would turn every correction round.
    let whole_slope = (slope + shape_slope).max(0.1 * slope);
    let resistance = model.resistance(conditions.temperature_c)
        * (x[at::RESISTANCE] + x[at::RESISTANCE_COLOUR]).clamp(-2.0, 2.0).exp();
    let drop_v = (conditions.rate - x[at::OFFSET]) * resistance;
    let slope_doubt =
        slope_variance(normal, lower) * normal.covariance[at::CHARGE][at::CHARGE].max(0.0) + curve.bend_v2;
    Expected {
        cell_v: curve.mean_v + low_v * (1.0 - weight) + high_v * weight + drop_v + x[at::VOLTAGE_COLOUR],
        row: vec![
            (at::CHARGE, whole_slope),
            (at::GAP, -whole_slope),
            (at::KNEE, slope * knee_weight),
            (at::OFFSET, -resistance),
            (at::RESISTANCE, drop_v),
            (at::RESISTANCE_COLOUR, drop_v),
            (at::VOLTAGE_COLOUR, 1.0),
            (at::SHAPE + lower, 1.0 - weight),
            (at::SHAPE + lower + 1, weight),
        ],
        noise_v2: noise_v2(model, conditions, drop_v, whole_slope * x[at::GAP], slope_doubt),
    }
}

/// The preset's curve as a straight line over what the charge may be: three points of the unscented transform (Julier &
/// Uhlmann, Proc. IEEE 92 (2004) 401), so that a knee within the doubt is neither missed nor taken for a slope.
struct Linearised {
    mean_v: f64,
    slope: f64,
    /// Variance that the straight line leaves.
    bend_v2: f64,
}

impl Linearised {
    fn of(model: &Model, soc: f64, std_dev: f64) -> Linearised {
        let volts = |soc: f64| model.voltage.ocv.at(soc.clamp(-0.1, 1.0)).0;
        let reach = std_dev.max(0.002) * 3.0_f64.sqrt();
        let (low, middle, high) = (volts(soc - reach), volts(soc), volts(soc + reach));
        let mean_v = middle + (low + high - 2.0 * middle) / 6.0;
        let slope = (high - low) / (2.0 * reach);
        let square = |v: f64| (v - mean_v).powi(2);
        let whole_v2 = (square(low) + square(high)) / 6.0 + square(middle) * 2.0 / 3.0;
        Linearised { mean_v, slope, bend_v2: (whole_v2 - (slope * std_dev.max(0.002)).powi(2)).max(0.0) }
    }
}

/// 1 σ of the charge at the surface.
fn surface_std_dev(normal: &Normal) -> f64 {
    normal.variance_of(&[(at::CHARGE, 1.0), (at::GAP, -1.0)]).max(0.0).sqrt()
}

/// Variance of the correction's slope between two knots, (V per unit of charge)².
fn slope_variance(normal: &Normal, lower: usize) -> f64 {
    let knots = (super::model::KNOTS - 1) as f64;
    normal.variance_of(&[(at::SHAPE + lower, -knots), (at::SHAPE + lower + 1, knots)]).max(0.0)
}

/// Errors that stay for a time are spread over it: a window shorter than that time gets its share only, so that many
/// short windows say no more than few long ones.
fn noise_v2(model: &Model, conditions: Conditions, drop_v: f64, gap_v: f64, slope_doubt_v2: f64) -> f64 {
    let lasting = |error_v: f64, seconds: f64| error_v * error_v * (seconds / conditions.seconds).max(1.0);
    WHITE_V2_S / conditions.seconds.min(600.0)
        + lasting(RATE_DOUBT * drop_v, RATE_DOUBT_S)
        + lasting(GAP_DOUBT * gap_v, GAP_DOUBT_S)
        + lasting(model.voltage.surface_v * conditions.surface, model.voltage.surface_s)
        + lasting(slope_doubt_v2.sqrt(), model.voltage.colour_s)
}
