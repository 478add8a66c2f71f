//! How far a long command is, on a line of its own on a terminal.

use std::io::{IsTerminal, Write};

use crate::clock::Clock;
use crate::quantity::MonoMs;

/// Time between two words, ms.
const EVERY_MS: i64 = 500;

/// Tells percent and time left, on a terminal only: a log has no use for it.
pub struct ProgressLine {
    clock: Clock,
    shown: bool,
    what: &'static str,
    began: MonoMs,
    told: MonoMs,
}

impl ProgressLine {
    /// Nothing is said yet.
    pub fn new() -> ProgressLine {
        let clock = Clock::system();
        let now = clock.mono();
        ProgressLine { clock, shown: std::io::stderr().is_terminal(), what: "", began: now, told: now }
    }

    /// `done` of `total` parts of what is being done are done.
    pub fn at(&mut self, what: &'static str, done: u64, total: u64) {
        if !self.shown {
            return;
        }
        let now = self.clock.mono();
        if what != self.what {
            (self.what, self.began) = (what, now);
        } else if now - self.told < EVERY_MS {
            return;
        }
        self.told = now;
        let text = words(done, total, now.seconds_since(self.began));
        // A terminal that is gone is no reason to stop.
        let _ = write!(std::io::stderr(), "\r{what}: {text:<40}");
    }

    /// Clears the line.
    pub fn end(&mut self) {
        if self.shown && !self.what.is_empty() {
            let _ = write!(std::io::stderr(), "\r{:60}\r", "");
        }
        self.what = "";
    }
}

/// Percent, and the time left once it can be guessed from what went before.
fn words(done: u64, total: u64, elapsed_s: f64) -> String {
    let percent = done.saturating_mul(100).checked_div(total).unwrap_or(100);
    if done == 0 || elapsed_s < 2.0 {
        return format!("{percent} %");
    }
    let left_s = elapsed_s * total.saturating_sub(done) as f64 / done as f64;
    if left_s < 90.0 {
        format!("{percent} %, {left_s:.0} s left")
    } else {
        format!("{percent} %, {:.0} min left", left_s / 60.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_time_left_follows_from_the_time_that_went() {
        assert_eq!(words(0, 400, 5.0), "0 %");
        assert_eq!(words(100, 400, 1.0), "25 %", "too early to tell");
        assert_eq!(words(100, 400, 10.0), "25 %, 30 s left");
        assert_eq!(words(1, 100, 10.0), "1 %, 16 min left");
        assert_eq!(words(0, 0, 10.0), "100 %");
    }
}
