//! Rainflow counting of ASTM E1049-85 (section 5.4.4, three points at a time), one value after the other.
//!
//! Turning points stand in a list. When the newest range is at least as great as the one before it, the one before it is
//! a cycle: a whole one inside the list, after which its two points go; a half one at the list's beginning, after which its first point
//! goes. What is left at the end is counted as halves ([`Rainflow::residue`]). The list holds ranges that grow and then shrink.
//! Values that matter are told from those that do not by `smallest`: of a swing that is smaller, nothing is seen. With `smallest` 0 every
//! turn counts and the result is that of the standard.

use serde::{Deserialize, Serialize};

/// The list never holds more turning points than this: with values in 0..1 and swings of at least 0.01 it cannot
/// need more than 200 (each range differs from its neighbour by more than nothing, and repeated ranges close); with finer swings
/// the list could grow without end, so beyond this its oldest range is counted as a half cycle, as it would be at the end.
const MOST_TURNS: usize = 512;

/// A turning point, and where it lies.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Turn<K> {
    /// Where: a moment, a number.
    pub key: K,
    /// The value there.
    pub value: f64,
}

/// A cycle or half a cycle.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Swing<K> {
    /// Difference of the two turning points, not negative.
    pub range: f64,
    /// Their mean.
    pub mean: f64,
    /// 1 or 0.5.
    pub count: f64,
    /// The earlier turning point.
    pub from: K,
    /// The later one.
    pub to: K,
}

/// The counting, as it stands. Saved and read again it goes on where it was.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Rainflow<K> {
    smallest: f64,
    /// Turning points that are settled.
    turns: Vec<Turn<K>>,
    /// The newest value that may become a turning point.
    tip: Option<Turn<K>>,
    /// Rising towards the tip; `None` before the second value.
    rising: Option<bool>,
}

impl<K: Copy> Rainflow<K> {
    /// Nothing counted yet. A way back is seen from `smallest` on; not negative.
    #[must_use]
    pub fn new(smallest: f64) -> Rainflow<K> {
        Rainflow { smallest: smallest.max(0.0), turns: Vec::new(), tip: None, rising: None }
    }

    /// Takes the next value and gives the cycles that it closes, the earlier ones first. What is not finite is left out.
    pub fn take(&mut self, key: K, value: f64) -> Vec<Swing<K>> {
        let next = Turn { key, value };
        let Some(tip) = self.tip.filter(|_| value.is_finite()) else {
            if value.is_finite() {
                self.tip = Some(next);
            }
            return Vec::new();
        };
        let change = value - tip.value;
        match self.rising {
            // On in the same direction; an equal value does not move the tip.
            Some(rising) if change.abs() > 0.0 && rising == (change > 0.0) => {
                self.tip = Some(next);
                Vec::new()
            }
            // Back, but not far enough to be seen.
            _ if change.abs() <= 0.0 || change.abs() < self.smallest => Vec::new(),
            _ => {
                self.turns.push(tip);
                self.tip = Some(next);
                self.rising = Some(change > 0.0);
                self.close()
            }
        }
    }

    /// The half cycles that are still open, the earlier ones first; the newest value counts as a turning point.
    #[must_use]
    pub fn residue(&self) -> Vec<Swing<K>> {
        let mut ended = self.clone();
        let mut swings = Vec::new();
        if let Some(tip) = self.tip.filter(|_| self.rising.is_some()) {
            ended.turns.push(tip);
            swings = ended.close();
        }
        swings.extend(ended.turns.windows(2).map(|pair| swing(pair[0], pair[1], 0.5)));
        swings
    }

    /// Counts what the list's last range closes.
    fn close(&mut self) -> Vec<Swing<K>> {
        let mut closed = Vec::new();
        while let [.., before, middle, last] = self.turns[..] {
            if (last.value - middle.value).abs() < (middle.value - before.value).abs() {
                break;
            }
            let first = self.turns.len() == 3;
            closed.push(swing(before, middle, if first { 0.5 } else { 1.0 }));
            if first {
                self.turns.remove(0);
            } else {
                self.turns.truncate(self.turns.len() - 3);
                self.turns.push(last);
            }
        }
        if self.turns.len() > MOST_TURNS {
            closed.push(swing(self.turns[0], self.turns[1], 0.5));
            self.turns.remove(0);
        }
        closed
    }
}

fn swing<K>(from: Turn<K>, to: Turn<K>, count: f64) -> Swing<K> {
    Swing {
        range: (to.value - from.value).abs(),
        mean: f64::midpoint(from.value, to.value),
        count,
        from: from.key,
        to: to.key,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_swing_below_the_smallest_is_not_seen() {
        let mut rainflow = Rainflow::new(0.05);
        let values = [1.0, 0.5, 0.53, 0.3, 0.8, 0.77, 0.9];
        let closed: Vec<Swing<usize>> = values.iter().enumerate().flat_map(|(i, v)| rainflow.take(i, *v)).collect();
        assert_eq!(closed, []);
        let residue: Vec<(f64, f64)> = rainflow.residue().iter().map(|s| (s.range, s.count)).collect();
        assert_eq!(residue, [(0.7, 0.5), (0.6000000000000001, 0.5)]);
    }

    /// Whatever comes, the list stays bounded: ranges that shrink for ever would fill it.
    #[test]
    fn ranges_that_shrink_for_ever_do_not_fill_the_memory() {
        let mut rainflow = Rainflow::new(0.0);
        let mut counted = 0.0;
        for i in 0..5000_i32 {
            let size = 0.5 / f64::from(i + 1);
            counted += rainflow.take(i, if i % 2 == 0 { size } else { -size }).iter().map(|s| s.count).sum::<f64>();
        }
        assert!(rainflow.turns.len() <= MOST_TURNS);
        let open: f64 = rainflow.residue().iter().map(|s| s.count).sum();
        assert!((counted + open - 0.5 * 4999.0).abs() < 1e-9, "each range is half a cycle: {counted} {open}");
    }

    #[test]
    fn what_is_not_finite_is_left_out() {
        let mut rainflow = Rainflow::new(0.0);
        for (i, v) in [f64::NAN, 0.0, 1.0, f64::INFINITY, 0.0].into_iter().enumerate() {
            rainflow.take(i, v);
        }
        let open: Vec<(f64, f64)> = rainflow.residue().iter().map(|s| (s.range, s.count)).collect();
        assert_eq!(open, [(1.0, 0.5), (1.0, 0.5)]);
    }
}
