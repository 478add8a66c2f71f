//! The computer's own clock.

use std::path::Path;

use rustix::time::{ClockId, clock_gettime};

use super::hand::can_be_right;
use super::{TimeSource, Trust, WallReading};
use crate::quantity::{MonoMs, UtcMs};

/// Left by the system's time service once the kernel clock follows a time source (systemd-timesyncd, documented in
/// systemd-timesyncd.service(8)).
const SYNCHRONISED_MARK: &str = "/run/systemd/timesync/synchronized";

/// `CLOCK_BOOTTIME`, `CLOCK_REALTIME` and the kernel's boot id.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl TimeSource for SystemClock {
    fn mono(&self) -> MonoMs {
        MonoMs(read(ClockId::Boottime))
    }

    fn wall(&self) -> WallReading {
        let utc = UtcMs(read(ClockId::Realtime));
        let trust = if !can_be_right(utc) {
            Trust::Untrusted
        } else if Path::new(SYNCHRONISED_MARK).exists() {
            Trust::Synchronised
        } else {
            Trust::Plausible
        };
        WallReading { mono: self.mono(), utc, trust }
    }

    fn boot_id(&self) -> String {
        // Where the kernel does not tell, the start of this boot to the minute does as well.
        std::fs::read_to_string("/proc/sys/kernel/random/boot_id").map(|text| text.trim().to_owned()).unwrap_or_else(
            |_| format!("boot-at-minute-{}", (read(ClockId::Realtime) - read(ClockId::Boottime)) / 60_000),
        )
    }
}

fn read(id: ClockId) -> i64 {
    let time = clock_gettime(id);
    time.tv_sec * 1000 + time.tv_nsec / 1_000_000
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_computer_has_a_boot_id_and_a_clock_that_does_not_run_back() {
        let clock = SystemClock;
        let earlier = clock.mono();
        assert!(clock.mono() >= earlier);
        assert_eq!(clock.boot_id(), clock.boot_id());
        assert!(!clock.boot_id().is_empty());
    }
}
