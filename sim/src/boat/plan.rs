//! The voyage: where the boat is and what its drive does when, drawn from a seed. The first three weeks are laid out so that they end in the
//! middle of a passage; after them the plan grows as time goes on.

use super::sky;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use serde::{Deserialize, Serialize};

const HOUR_S: f64 = 3600.0;
const DAY_S: f64 = 86_400.0;
/// The first part of the plan ends here, in the middle of the last passage, s.
pub const THREE_WEEKS_S: f64 = 21.0 * DAY_S;
/// The last passage of the three weeks begins so long before their end and goes on so long after it, s.
const LAST_BEGINS_BEFORE_S: f64 = 22.0 * HOUR_S;
const LAST_ENDS_AFTER_S: f64 = 5.0 * HOUR_S;

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
    rng: ChaCha8Rng,
    start_utc_s: f64,
    stays: Vec<Stay>,
    runs: Vec<Run>,
}

impl Plan {
    /// Draws the first three weeks and the end of the passage under way then.
    pub fn new(seed: u64, start_utc_s: f64) -> Self {
        let mut plan = Self { rng: ChaCha8Rng::seed_from_u64(seed), start_utc_s, stays: Vec::new(), runs: Vec::new() };
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

    /// Makes sure that the plan covers `elapsed_s` and forgets what lies more than a day back once it has to grow.
    pub fn extend_to(&mut self, elapsed_s: f64) {
        while self.stays.last().is_none_or(|stay| stay.end_s <= elapsed_s) {
            self.stays.retain(|stay| stay.end_s > elapsed_s - DAY_S);
            self.runs.retain(|run| run.end_s > elapsed_s - DAY_S);
            for place in [Place::Anchor, Place::Passage, Place::Anchor, Place::Passage, Place::Marina, Place::Passage] {
                let length_s = self.draw_length_s(place);
                self.add(place, length_s);
            }
        }
    }

    fn lay_three_weeks(&mut self) {
        use Place::{Anchor, Marina, Passage};
        let order =
            [Marina, Passage, Anchor, Passage, Anchor, Passage, Marina, Passage, Anchor, Passage, Anchor, Passage];
        let mut lengths: Vec<f64> = order.iter().map(|place| self.draw_length_s(*place)).collect();
        // The days at anchor take up what is left, so that the last marina gives way to the last passage on time.
        let last_leaves_s = THREE_WEEKS_S - LAST_BEGINS_BEFORE_S;
        let last_marina_s = self.rng.random_range(1.3..1.9) * DAY_S;
        let at_anchor: f64 =
            order.iter().zip(&lengths).filter(|(place, _)| **place == Anchor).map(|(_, length)| length).sum();
        let excess_s = lengths.iter().sum::<f64>() + last_marina_s - last_leaves_s;
        let mut drift_s = 0.0;
        for (place, length) in order.iter().zip(&mut lengths) {
            if *place == Anchor {
                // Berths are left in the morning; what that shifts is made good at the next anchorage.
                *length = *length * (1.0 - excess_s / at_anchor) - drift_s;
            }
            let ends_s = self.end_s() + *length;
            self.add(*place, *length);
            drift_s = if *place == Anchor { 0.0 } else { drift_s } + self.end_s() - ends_s;
        }
        let arrived_s = self.end_s();
        self.stays.push(Stay { place: Marina, begin_s: arrived_s, end_s: last_leaves_s });
        self.lay_last_passage(last_leaves_s);
    }

    fn end_s(&self) -> f64 {
        self.stays.last().map_or(0.0, |stay| stay.end_s)
    }

    fn draw_length_s(&mut self, place: Place) -> f64 {
        match place {
            Place::Marina => self.rng.random_range(1.3..2.2) * DAY_S,
            Place::Anchor => self.rng.random_range(1.5..3.5) * DAY_S,
            // Mostly day trips, now and then a night or more.
            Place::Passage => (6.0 + 24.0 * self.rng.random_range(0.0_f64..1.0).powi(2)) * HOUR_S,
        }
    }

    /// Adds a stay; one at a berth ends in the morning.
    fn add(&mut self, place: Place, length_s: f64) {
        let begin_s = self.end_s();
        let mut end_s = begin_s + length_s;
        if place != Place::Passage {
            let hour = sky::solar_hour(self.start_utc_s + end_s);
            let morning = self.rng.random_range(6.0..9.5);
            let later_h = (morning - hour).rem_euclid(24.0);
            // A marina is left on the morning after, an anchorage on the nearest one.
            end_s += HOUR_S * if place == Place::Anchor && later_h > 12.0 { later_h - 24.0 } else { later_h };
        }
        self.stays.push(Stay { place, begin_s, end_s });
        match place {
            Place::Passage => self.lay_passage(begin_s, end_s),
            Place::Anchor => self.lay_anchorage(begin_s, end_s),
            Place::Marina => (),
        }
    }

    fn run(&mut self, order: Order, begin_s: f64, length_s: f64) -> f64 {
        let end_s = begin_s + length_s;
        self.runs.push(Run { order, begin_s, end_s });
        end_s
    }

    /// A passage: out under power, sail with the propeller turning, perhaps a calm, the generator, in under power.
    /// 120 Ah at 48 V make 5.8 kW at 1 C: the powers are 0.2 to 0.5 C.
    fn lay_passage(&mut self, begin_s: f64, end_s: f64) {
        let length_s = end_s - begin_s;
        let minutes = self.rng.random_range(5.0..11.0);
        let mut now_s = self.run(Order::Manoeuvre, begin_s, 60.0 * minutes);
        let (power_w, hours) = (self.rng.random_range(1300.0..2700.0), self.rng.random_range(0.3..0.7));
        now_s = self.run(Order::Motor(power_w), now_s, hours * HOUR_S);
        let approach_s = self.rng.random_range(0.35..0.75) * HOUR_S;
        let berth_s = 60.0 * self.rng.random_range(5.0..11.0);
        let sail_s = end_s - berth_s - approach_s - now_s;
        let regeneration_w = self.rng.random_range(60.0..260.0);
        if self.rng.random_bool(0.65) {
            let before_s = sail_s * self.rng.random_range(0.15..0.4);
            self.run(Order::Regenerate(regeneration_w), now_s + 60.0, before_s - 120.0);
            let (power_w, hours) = (self.rng.random_range(1100.0..2200.0), self.rng.random_range(0.4..1.0));
            now_s = self.run(Order::Motor(power_w), now_s + before_s, hours * HOUR_S);
        }
        let rest_s = end_s - berth_s - approach_s - now_s;
        if length_s > 9.0 * HOUR_S {
            self.run(Order::Generate(0.85), now_s + 0.3 * rest_s, 3.0 * HOUR_S);
        }
        self.run(Order::Regenerate(0.6 * regeneration_w), now_s + 60.0, 0.9 * rest_s);
        let power_w = self.rng.random_range(1300.0..2700.0);
        self.run(Order::Motor(power_w), end_s - berth_s - approach_s, approach_s);
        self.run(Order::Manoeuvre, end_s - berth_s, berth_s);
    }

    /// Days at anchor: the generator on the evening of arrival or the next.
    fn lay_anchorage(&mut self, begin_s: f64, end_s: f64) {
        let after_s = self.rng.random_range(1.0..8.0) * HOUR_S;
        let level = self.rng.random_range(0.75..0.9);
        if end_s - begin_s > after_s + 4.0 * HOUR_S {
            self.run(Order::Generate(level), begin_s + after_s, 4.0 * HOUR_S);
        }
    }

    /// The passage that the three weeks end in: hard runs early, partly made good by the generator, then motor-sailing lightly.
    fn lay_last_passage(&mut self, begin_s: f64) {
        let now_s = THREE_WEEKS_S;
        let end_s = now_s + LAST_ENDS_AFTER_S;
        self.stays.push(Stay { place: Place::Passage, begin_s, end_s });
        let out_s = self.run(Order::Manoeuvre, begin_s, 8.0 * 60.0);
        let (power_w, hours) = (self.rng.random_range(2100.0..2900.0), self.rng.random_range(0.75..1.0));
        let sail_s = self.run(Order::Motor(power_w), out_s, hours * HOUR_S);
        let calm_s = now_s - 14.0 * HOUR_S;
        let regeneration_w = self.rng.random_range(60.0..140.0);
        self.run(Order::Regenerate(regeneration_w), sail_s + 60.0, calm_s - sail_s - 120.0);
        let (power_w, hours) = (self.rng.random_range(1500.0..2100.0), self.rng.random_range(0.6..0.9));
        let calm_over_s = self.run(Order::Motor(power_w), calm_s, hours * HOUR_S);
        let level = self.rng.random_range(0.80..0.85);
        self.run(Order::Generate(level), calm_over_s + 4.0 * HOUR_S, 3.0 * HOUR_S);
        let approach_s = end_s - 35.0 * 60.0;
        let mut at_s = now_s - 6.5 * HOUR_S;
        while at_s < approach_s {
            let power_w = self.rng.random_range(100.0..210.0);
            let length_s = (self.rng.random_range(40.0..90.0) * 60.0_f64).min(approach_s - at_s);
            at_s = self.run(Order::Motor(power_w), at_s, length_s) + self.rng.random_range(5.0..15.0) * 60.0;
        }
        self.run(Order::Motor(1400.0), approach_s, 25.0 * 60.0);
        self.run(Order::Manoeuvre, end_s - 10.0 * 60.0, 10.0 * 60.0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_seed_gives_three_passages_and_two_calls_at_a_marina_within_three_weeks() {
        for seed in 0..200 {
            let plan = Plan::new(seed, 1.78e9 + 3571.0 * seed as f64);
            let count =
                |place| plan.stays().iter().filter(|stay| stay.place == place && stay.begin_s < THREE_WEEKS_S).count();
            assert!(count(Place::Passage) >= 3 && count(Place::Marina) >= 3, "seed {seed}");
            for stay in plan.stays() {
                let hours = (stay.end_s - stay.begin_s) / HOUR_S;
                let (least, most) = if stay.place == Place::Passage { (6.0, 30.0) } else { (12.0, 24.0 * 7.0) };
                assert!((least..=most).contains(&hours), "seed {seed}: {stay:?} takes {hours} h");
            }
            for pair in plan.stays().windows(2) {
                assert!((pair[0].end_s - pair[1].begin_s).abs() < 1e-6, "seed {seed}: {pair:?}");
            }
        }
    }

    #[test]
    fn three_weeks_end_under_way_and_the_plan_goes_on() {
        let mut plan = Plan::new(5, 1.78e9);
        let at = |plan: &Plan, elapsed_s: f64| {
            plan.stays().iter().find(|stay| stay.begin_s <= elapsed_s && elapsed_s < stay.end_s).map(|stay| stay.place)
        };
        assert_eq!(at(&plan, THREE_WEEKS_S), Some(Place::Passage));
        for day in 22..200 {
            let elapsed_s = f64::from(day) * DAY_S;
            plan.extend_to(elapsed_s);
            assert!(at(&plan, elapsed_s).is_some(), "day {day}");
        }
        assert!(plan.stays().len() < 12, "what is past is forgotten");
    }
}
