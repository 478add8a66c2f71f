//! How far a line lies from the truth, and whether its band holds it.

use taffrail::quantity::Band;

/// Sums over rows; all rows weigh the same.
#[derive(Debug, Clone, Copy, Default)]
pub struct Score {
    rows: f64,
    square_error: f64,
    greatest: f64,
    inside: f64,
    half_width: f64,
}

impl Score {
    /// Takes one row. A generator's truth may run a little past full or empty; a state of charge cannot.
    pub fn add(&mut self, truth: f64, soc: f64, band: Band) {
        let truth = truth.clamp(0.0, 1.0);
        let error = soc - truth;
        self.rows += 1.0;
        self.square_error += error * error;
        self.greatest = self.greatest.max(error.abs());
        self.inside += f64::from(u8::from(holds(band, truth)));
        self.half_width += band.width() / 2.0;
    }

    /// Root of the mean square error, ratio.
    pub fn rms(&self) -> f64 {
        (self.square_error / self.rows).sqrt()
    }

    /// Greatest error, ratio.
    pub const fn greatest(&self) -> f64 {
        self.greatest
    }

    /// Share of rows whose band holds the truth.
    pub fn inside(&self) -> f64 {
        self.inside / self.rows
    }

    /// Mean half-width of the band, ratio.
    pub fn half_width(&self) -> f64 {
        self.half_width / self.rows
    }
}

/// Whether the band holds the value, but for what rounding adds.
pub fn holds(band: Band, value: f64) -> bool {
    (band.low - 1e-9..=band.high + 1e-9).contains(&value)
}
