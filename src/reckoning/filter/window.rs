//! Seconds gathered between two looks at the voltage: the mean moves with each reading, the covariance once a window.

use serde::{Deserialize, Serialize};

/// A window is closed once it is this long, s. The covariance and the weight of a voltage change little within.
pub const WINDOW_S: f64 = 30.0;

/// Sums over the readings of a window.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
pub struct Window {
    /// Length, s.
    pub seconds: f64,
    /// Seconds with a voltage that can be used.
    pub voltage_s: f64,
    /// Volts of a cell times seconds, over those.
    pub cell_v_s: f64,
    /// Measured rate times seconds, over those.
    pub rate_s: f64,
    /// Hours, weighed by what of an offset reaches the charge.
    pub offset_h: f64,
    /// Charge moved without self-discharge, parts of the capacity.
    pub moved: f64,
    /// Charge lost for each unit of the loss scale, parts of the capacity.
    pub lost: f64,
    /// Gap driven up, parts of the capacity.
    pub driven: f64,
    /// Sum of the sizes of that.
    pub driven_size: f64,
    /// Product of the gap's decays.
    pub decay: f64,
    /// Variance of charge moved unseen between readings that lie apart.
    pub bridged: f64,
}

impl Window {
    /// An empty window.
    pub fn open() -> Window {
        Window { decay: 1.0, ..Window::default() }
    }

    /// Mean volts of a cell and mean measured rate while the voltage could be used; `None` if it never could.
    pub fn means(&self) -> Option<(f64, f64)> {
        (self.voltage_s > 0.0).then(|| (self.cell_v_s / self.voltage_s, self.rate_s / self.voltage_s))
    }
}
