//! Fade.

mod forecast;
mod scatter;
mod shape;
mod theil_sen;
mod thin;

pub use forecast::Forecast;
pub use shape::{Population, Prior};
pub use theil_sen::{Line, theil_sen};

/// A finding of capacity.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// Time or cycles, in a unit of the caller's.
    pub x: f64,
    /// Capacity over the rating.
    pub ratio: f64,
    /// 1 σ of it.
    pub std_dev: f64,
}

pub fn lab(points: &[Point], threshold: f64, prior: &Prior) -> Option<(Forecast, f64, f64)> {
    let d = scatter::digest(points);
    let f = forecast::forecast(&d.bins, threshold, prior)?;
    Some((f, d.run, d.bins[d.bins.len() / 2].std_dev))
}
