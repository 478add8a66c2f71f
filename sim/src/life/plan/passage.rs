//! Laying one passage: out under power, under sail with calms and perhaps a stop for lunch, in under power.

use rand::RngExt;

use super::{Drive, Pen, Place, Stretch};

/// Lengths of passages in legs under sail: the chance of each kind, and from how many to how many legs.
const KINDS: [(f64, i32, i32); 4] = [(0.72, 1, 4), (0.16, 3, 6), (0.09, 6, 10), (0.03, 14, 28)];

impl Pen<'_> {
    /// A passage from `begin_s`; gives the moment when it is over. The last one of a season is short.
    pub(super) fn lay_passage(&mut self, begin_s: i64, short: bool) -> i64 {
        let mut now_s = self.manoeuvre(begin_s);
        now_s = self.motor(now_s, (1300.0, 2700.0), (0.3, 0.7));
        let regeneration_w = self.rng.random_range(60.0..260.0);
        let mut carried = true;
        for _ in 0..self.legs(short) {
            // After a leg on which the propeller stands still the next one has it turning.
            let turns = carried_or(self.rng.random_bool(0.7), carried);
            now_s = if turns {
                self.put(now_s, Place::UnderWay, Drive::Regenerate(regeneration_w));
                now_s + self.hours(0.8, 2.8)
            } else {
                self.put(now_s, Place::UnderWay, Drive::Off);
                now_s + self.hours(0.5, 1.8)
            };
            carried = turns;
            if self.rng.random_bool(0.35) {
                now_s = self.motor(now_s, (1100.0, 2200.0), (0.3, 0.8));
                carried = true;
            } else if self.rng.random_bool(0.2) {
                now_s = self.lunch(now_s);
                carried = true;
            }
        }
        now_s = self.motor(now_s, (1300.0, 2700.0), (0.35, 0.75));
        now_s = self.manoeuvre(now_s);
        self.plan.passages.push(Stretch { begin_s, end_s: now_s });
        now_s
    }

    fn legs(&mut self, short: bool) -> i32 {
        let mut left = self.rng.random_range(0.0..1.0);
        let kind = KINDS.iter().find(|(chance, ..)| {
            left -= chance;
            left < 0.0
        });
        let (_, from, to) = kind.filter(|_| !short).unwrap_or(&KINDS[0]);
        self.rng.random_range(*from..*to)
    }

    fn manoeuvre(&mut self, begin_s: i64) -> i64 {
        self.put(begin_s, Place::UnderWay, Drive::Manoeuvre);
        begin_s + self.seconds(240.0, 540.0)
    }

    fn motor(&mut self, begin_s: i64, power_w: (f64, f64), hours: (f64, f64)) -> i64 {
        let power_w = self.rng.random_range(power_w.0..power_w.1);
        self.put(begin_s, Place::UnderWay, Drive::Motor(power_w));
        begin_s + self.hours(hours.0, hours.1)
    }

    /// To an anchorage under power, a stop there, and out again.
    fn lunch(&mut self, begin_s: i64) -> i64 {
        let lies_s = self.motor(begin_s, (600.0, 1200.0), (0.08, 0.15));
        self.put(lies_s, Place::Anchor, Drive::Off);
        let leaves_s = lies_s + self.hours(0.7, 1.9);
        self.motor(leaves_s, (600.0, 1200.0), (0.08, 0.15))
    }
}

/// Whether the propeller turns: as drawn, but always after a leg on which it stood still.
fn carried_or(drawn: bool, carried: bool) -> bool {
    drawn || !carried
}
