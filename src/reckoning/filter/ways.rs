//! Two ways since a fix, each smoothed for itself: that of the filter, and that of counting alone.
//!
//! Where the voltage says much, the filter's way is the better one afterwards; where it says little (a lithium plateau),
//! the count closed at both ends is: its errors grow evenly, and the closing error takes them out.

use super::model::{N, at};
use super::trail::{SmoothedKnot, Trail};
use super::{Filter, Normal};
use crate::reckoning::gaussian::{Gaussian, Part};

/// The ways.
#[derive(Debug, Clone)]
pub struct Ways {
    /// Of the filter.
    pub(super) filter: Trail<N>,
    /// Of counting alone.
    pub(super) counted: Trail<4>,
}

/// The knots of both, smoothed.
#[derive(Debug, Clone, PartialEq)]
pub struct SmoothedWays {
    /// Of the filter.
    pub filter: Vec<SmoothedKnot>,
    /// Of counting alone.
    pub counted: Vec<SmoothedKnot>,
}

/// Where a mark lies on the ways.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Place {
    /// Seconds from the beginning.
    pub at_s: f64,
    /// Variance of the filter's charge that no voltage takes away.
    pub unlearnable: f64,
    /// State of charge by counting alone.
    pub counted_soc: f64,
}

impl Ways {
    fn begin(normal: &Normal, counted: &Gaussian<4>) -> Ways {
        Ways { filter: Trail::begin(normal), counted: Trail::begin(counted) }
    }

    /// The charge is known anew and says nothing of the way it came.
    pub(super) fn forget_charge(&mut self) {
        self.filter.forget(at::CHARGE);
        self.counted.forget(0);
    }

    /// Both, with all that is known at their end.
    #[must_use]
    pub fn smoothed(&self) -> SmoothedWays {
        SmoothedWays { filter: self.filter.smoothed(), counted: self.counted.smoothed() }
    }
}

impl Filter {
    /// Time has passed.
    pub(super) fn pass_ways(&mut self, seconds: f64) {
        if let Some(ways) = &mut self.ways {
            ways.filter.pass(seconds, &self.state.normal);
            ways.counted.pass(seconds, &self.state.counted);
        }
    }

    /// Ties a knot on either way.
    pub(super) fn tie_knots(&mut self) {
        if let Some(ways) = &mut self.ways {
            ways.filter.knot(&self.state.normal);
            ways.counted.knot(&self.state.counted);
        }
    }

    /// The count is closed by a fix of the charge.
    pub(super) fn close_count(&mut self, soc: f64, noise: f64) {
        let row: [Part; 1] = [(0, 1.0)];
        let update = self.state.counted.update(&row, soc - self.state.counted.mean[0], noise);
        if let Some(ways) = &mut self.ways {
            ways.counted.update(&row, &update);
        }
    }

    /// Begins to keep the ways from here, for [`crate::reckoning::Traverse`].
    pub(in crate::reckoning) fn lay_ways(&mut self) {
        self.close_window();
        self.ways = Some(Box::new(Ways::begin(&self.state.normal, &self.state.counted)));
    }

    /// Ends the ways here and takes them.
    pub(in crate::reckoning) fn take_ways(&mut self) -> Option<Ways> {
        self.close_window();
        self.tie_knots();
        self.ways.take().map(|ways| *ways)
    }

    /// Where on the ways the present is.
    pub(in crate::reckoning) fn place(&self) -> Place {
        Place {
            at_s: self.ways.as_ref().map_or(0.0, |ways| ways.filter.elapsed_s() + self.state.window.seconds),
            unlearnable: self.unlearnable_variance(),
            counted_soc: self.state.counted.mean[0],
        }
    }
}
