//! Real time, for playing a device; nothing else in this crate reads a clock.

use std::time::{Duration, Instant};

/// Real time since a beginning.
#[derive(Debug)]
pub struct Pace {
    begin: Instant,
}

impl Pace {
    /// Begins now.
    #[expect(clippy::disallowed_methods, reason = "the outermost pacing of a played device is real time")]
    pub fn begin() -> Self {
        Self { begin: Instant::now() }
    }

    /// Sleeps until so many seconds have passed since the beginning; returns at once when they have.
    pub fn wait_until(&self, seconds: f64) {
        let left = Duration::from_secs_f64(seconds).saturating_sub(self.begin.elapsed());
        std::thread::sleep(left);
    }
}
