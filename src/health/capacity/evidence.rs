//! One finding as evidence: what was measured, and through which shared errors.

/// By how much errors of the rest-voltage curve change the fall that was measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weight {
    /// Where on the curve.
    pub soc: f64,
    /// Change of the fall for each volt a cell by which the curve is wrong there.
    pub per_v: f64,
    /// Change of the fall for each unit of charge by which the knee at the empty end lies elsewhere.
    pub knee: f64,
}

/// A fall of the state of charge and the charge that was drawn meanwhile. Charges are in parts of the rated capacity.
#[derive(Debug, Clone, PartialEq)]
pub struct Evidence {
    /// Fall of the state of charge, as both ends tell it.
    pub fall: f64,
    /// Variance of what is that finding's own in it.
    pub fall_variance: f64,
    /// Charge drawn between the ends, less what came in and stayed.
    pub drawn: f64,
    /// Variance of what is that finding's own in it: charging losses, time that nobody saw.
    pub drawn_variance: f64,
    /// By how much more charge was drawn than counted for each unit of the sensor's offset, h.
    pub offset_h: f64,
    /// Error of the fall for each standard deviation of the rate curve's slope.
    pub rate: f64,
    /// Ends that are rests.
    pub rests: Vec<Weight>,
}
