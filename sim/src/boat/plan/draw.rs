//! Drawing the voyage: lengths of stays, and what is done during a passage and at anchor.

use super::{DAY_S, HOUR_S, Order, Place, Plan, Run, Stay, THREE_WEEKS_S};
use crate::boat::sky;
use rand::RngExt;

/// The last passage of the three weeks begins so long before their end and goes on so long after it, s.
const LAST_BEGINS_BEFORE_S: f64 = 22.0 * HOUR_S;
const LAST_ENDS_AFTER_S: f64 = 5.0 * HOUR_S;

impl Plan {
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

    /// Draws voyages until one leaves at least a day for the last marina, so that the banks are full before the last passage.
    pub(super) fn lay_three_weeks(&mut self) {
        let leaves_s = THREE_WEEKS_S - LAST_BEGINS_BEFORE_S;
        loop {
            self.stays.clear();
            self.runs.clear();
            self.lay_until_last_marina(leaves_s);
            let begin_s = self.end_s();
            if leaves_s - begin_s >= DAY_S {
                self.stays.push(Stay { place: Place::Marina, begin_s, end_s: leaves_s });
                break;
            }
        }
        self.lay_last_passage(leaves_s);
    }

    fn lay_until_last_marina(&mut self, leaves_s: f64) {
        use Place::{Anchor, Marina, Passage};
        let order =
            [Marina, Passage, Anchor, Passage, Anchor, Passage, Marina, Passage, Anchor, Passage, Anchor, Passage];
        let lengths: Vec<f64> = order.iter().map(|place| self.draw_length_s(*place)).collect();
        let last_marina_s = self.rng.random_range(1.3..1.9) * DAY_S;
        // The days at anchor take up what is left, so that the last marina gives way to the last passage on time.
        let sum_s = |anchor: bool| -> f64 {
            order
                .iter()
                .zip(&lengths)
                .filter(|(place, _)| (**place == Anchor) == anchor)
                .map(|(_, length)| length)
                .sum()
        };
        let stretch = (leaves_s - last_marina_s - sum_s(false)) / sum_s(true);
        let mut due_s = 0.0;
        for (place, length_s) in order.into_iter().zip(lengths) {
            if place == Anchor {
                due_s += length_s * stretch;
                // Berths are left in the morning; what that shifts is made good at the next anchorages, a day at least in each.
                self.add(place, (due_s - self.end_s()).max(DAY_S));
            } else {
                due_s += length_s;
                self.add(place, length_s);
            }
        }
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
