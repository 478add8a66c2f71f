//! Wrong PINs, and the wait that they cost.

use std::collections::VecDeque;

use crate::quantity::MonoMs;

/// So many wrong PINs are taken within [`SPAN_MS`]. Five are enough for wet fingers; all of four digits then take
/// 10,000 / 5 min = 33 h (assumed).
pub const MOST: usize = 5;
/// A minute.
const SPAN_MS: i64 = 60_000;

/// When the latest wrong PINs came, the earliest first. One count for everybody: aboard there are few who ask, and
/// whoever tries PINs out can take on as many addresses as he likes. The right PIN takes none off, or one person's
/// orders would give another new tries.
#[derive(Debug, Default)]
pub struct Tries(VecDeque<MonoMs>);

impl Tries {
    /// How long no PIN is taken, whole seconds; `None` if one is taken now.
    pub fn wait_s(&self, now: MonoMs) -> Option<u64> {
        let first = self.0.front().filter(|_| self.0.len() >= MOST)?;
        let left_ms = u64::try_from(first.0 + SPAN_MS - now.0).ok().filter(|left| *left > 0)?;
        Some(left_ms.div_ceil(1000))
    }

    /// Notes a wrong one.
    pub fn wrong(&mut self, now: MonoMs) {
        self.0.push_back(now);
        if self.0.len() > MOST {
            self.0.pop_front();
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn at(second: i64) -> MonoMs {
        MonoMs(second * 1000)
    }

    #[test]
    fn the_fifth_wrong_pin_within_a_minute_begins_a_wait_for_the_first_to_be_a_minute_old() {
        let mut tries = Tries::default();
        for second in 0..4 {
            tries.wrong(at(10 * second));
            assert_eq!(tries.wait_s(at(10 * second)), None);
        }
        tries.wrong(at(40));
        assert_eq!(tries.wait_s(at(40)), Some(20));
        assert_eq!(tries.wait_s(MonoMs(59_999)), Some(1));
        assert_eq!(tries.wait_s(at(60)), None, "one more may be tried");
        tries.wrong(at(60));
        assert_eq!(tries.wait_s(at(60)), Some(10), "the second was made at 10 s");
    }

    #[test]
    fn whoever_tries_on_and_on_gets_five_a_minute() {
        let mut tries = Tries::default();
        let hour = (0..3600).filter(|second| {
            let taken = tries.wait_s(at(*second)).is_none();
            if taken {
                tries.wrong(at(*second));
            }
            taken
        });
        assert_eq!(hour.count(), 5 * 60);
    }
}
