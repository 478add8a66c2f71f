//! The voyage: where the boat is and what its drive does when, drawn from a seed. The first three weeks are laid out so that they end in the
//! middle of a passage; after them the plan grows as time goes on.

mod draw;

use rand::SeedableRng;
use rand_xoshiro::Xoshiro256PlusPlus;
use serde::{Deserialize, Serialize};

const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 86_400.0;
/// The first part of the plan ends here, in the middle of the last passage, s.
pub const THREE_WEEKS_S: f64 = 21.0 * DAY_S;

/// Where the boat is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Place {
    /// In a marina, on shore power.
    Marina,
    /// At anchor.
    Anchor,
    /// Under way.
    Passage,
}

/// A stretch of time at one place, in seconds since the start.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Stay {
    /// Where.
    pub place: Place,
    /// First moment.
    pub begin_s: f64,
    /// Moment of leaving.
    pub end_s: f64,
}

/// What the drive or the generator is set to do.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub enum Order {
    /// Leaving or reaching a berth: throttle up and down.
    Manoeuvre,
    /// Motoring at a power, W.
    Motor(f64),
    /// Sailing fast enough for the propeller to drive the motor; mean power, W.
    Regenerate(f64),
    /// Generator on until the drive bank holds this state of charge.
    Generate(f64),
}

/// An order over a stretch of time, in seconds since the start.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Run {
    /// What is done.
    pub order: Order,
    /// First moment.
    pub begin_s: f64,
    /// Moment of its end.
    pub end_s: f64,
}

/// What the plan asks for at a moment, good until the next change.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Agenda {
    /// Where the boat is.
    pub place: Place,
    /// Order for the drive.
    pub drive: Option<Order>,
    /// Beginning of a generator run and the level it is to reach.
    pub generate: Option<(f64, f64)>,
    /// When to ask again, s since the start.
    pub valid_until_s: f64,
}

/// The plan.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Plan {
    rng: Xoshiro256PlusPlus,
    start_utc_s: f64,
    stays: Vec<Stay>,
    runs: Vec<Run>,
}

impl Plan {
    /// Draws the first three weeks and the end of the passage under way then.
    pub fn new(seed: u64, start_utc_s: f64) -> Self {
        let mut plan =
            Self { rng: Xoshiro256PlusPlus::seed_from_u64(seed), start_utc_s, stays: Vec::new(), runs: Vec::new() };
        plan.lay_three_weeks();
        plan
    }

    /// The stays known so far, in order.
    pub fn stays(&self) -> &[Stay] {
        &self.stays
    }

    /// The runs known so far, in order of their beginning.
    pub fn runs(&self) -> &[Run] {
        &self.runs
    }

    /// What is asked for at `elapsed_s`, which the plan must cover.
    pub fn agenda(&self, elapsed_s: f64) -> Agenda {
        let stays = self.stays.iter().map(|stay| (stay.begin_s, stay.end_s));
        let runs = self.runs.iter().map(|run| (run.begin_s, run.end_s));
        let changes = stays.chain(runs).flat_map(|(begin_s, end_s)| [begin_s, end_s]);
        let valid_until_s = changes.filter(|at_s| *at_s > elapsed_s).fold(f64::MAX, f64::min);
        let place = self
            .stays
            .iter()
            .find(|stay| stay.begin_s <= elapsed_s && elapsed_s < stay.end_s)
            .map_or(Place::Anchor, |stay| stay.place);
        let mut agenda = Agenda { place, drive: None, generate: None, valid_until_s };
        for run in self.runs.iter().filter(|run| run.begin_s <= elapsed_s && elapsed_s < run.end_s) {
            match run.order {
                Order::Generate(level) => agenda.generate = Some((run.begin_s, level)),
                order => agenda.drive = Some(order),
            }
        }
        agenda
    }
}

#[cfg(test)]
mod tests;
