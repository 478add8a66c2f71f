//! Where moments lie in UTC, worked out from clock fixes when somebody reads.
//!
//! Within a boot only the fixes of the highest rank count: a boot that learned the time late is placed by what it
//! learned, from its first moment on. Between fixes the offset from monotonic time to UTC is constant, so a clock
//! that was stepped moves what comes after the step and nothing before it. Every moment lies in exactly one range,
//! whatever the clock did: a step back shows two stretches over the same hour, a step forward leaves an hour empty.
//!
//! Two fixes of equal rank that differ are both believed, each for what follows it: a time source that was a week off
//! and is corrected leaves the time before the correction a week off, since nothing tells a correction from a clock that
//! was set on purpose. Settings by hand are the exception ([`BY_HAND`]): of several the last one places the whole boot,
//! because a person who states the time again takes back what was said before.

use super::moment::{BootNo, Moment, MonoMs, UtcMs};

/// Rank of a time that a person stated.
pub const BY_HAND: u8 = 2;

/// UTC noted at a moment of a boot, with how far it is believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockFix {
    /// Monotonic time of the reading.
    pub mono: MonoMs,
    /// UTC of the reading.
    pub utc: UtcMs,
    /// 0: not believed, placed for want of better; higher is believed more.
    pub rank: u8,
}

/// A moment placed in UTC.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Placed {
    /// UTC of the moment.
    pub utc: UtcMs,
    /// Rank of the fixes that placed it.
    pub rank: u8,
}

impl Placed {
    /// False if only fixes of rank 0 were there to place it.
    #[must_use]
    pub const fn trusted(self) -> bool {
        self.rank > 0
    }
}

/// A stretch of one boot over which UTC runs beside monotonic time.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonoRange {
    /// The boot.
    pub boot: BootNo,
    /// First moment of the stretch.
    pub from: MonoMs,
    /// End of the stretch, not part of it.
    pub to: MonoMs,
    /// UTC = monotonic + this many milliseconds.
    pub offset_ms: i64,
    /// Rank of the fixes that placed it.
    pub rank: u8,
}

impl MonoRange {
    /// False if only fixes of rank 0 were there to place it.
    #[must_use]
    pub const fn trusted(&self) -> bool {
        self.rank > 0
    }

    /// UTC of a moment of this stretch.
    #[must_use]
    pub fn utc(&self, mono: MonoMs) -> UtcMs {
        UtcMs(mono.0.saturating_add(self.offset_ms))
    }
}

/// All boots that have a clock fix. A boot without any cannot be placed and takes no part.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Timeline {
    /// Stretches without a bound in UTC, in the order of boot and monotonic time.
    stretches: Vec<MonoRange>,
}

impl Timeline {
    /// Builds the timeline from the fixes of all boots, in any order.
    #[must_use]
    pub fn new(fixes: impl IntoIterator<Item = (BootNo, ClockFix)>) -> Timeline {
        let mut fixes: Vec<(BootNo, ClockFix)> = fixes.into_iter().collect();
        // A stable sort: of two fixes at the same millisecond the one noted later stands last and wins.
        fixes.sort_by_key(|(boot, fix)| (*boot, fix.mono));
        let stretches = fixes.chunk_by(|(a, _), (b, _)| a == b).flat_map(stretches_of_boot).collect();
        Timeline { stretches }
    }

    /// UTC of a moment; `None` if its boot has no clock fix.
    #[must_use]
    pub fn utc(&self, at: Moment) -> Option<Placed> {
        let after = self.stretches.partition_point(|s| (s.boot, s.from) <= (at.boot, at.mono));
        let stretch = self.stretches[..after].last()?;
        (stretch.boot == at.boot).then(|| Placed { utc: stretch.utc(at.mono), rank: stretch.rank })
    }

    /// The stretches of all boots that lie in UTC `from` (included) to `to` (not included), in the order of boot and
    /// monotonic time. Stretches of different boots may overlap in UTC; no moment is in two of them.
    ///
    /// The timeline knows when a boot learned the time, not when it ended: the last stretch of each boot runs on.
    #[must_use]
    pub fn ranges(&self, from: UtcMs, to: UtcMs) -> Vec<MonoRange> {
        self.stretches.iter().filter_map(|stretch| clip(stretch, from, to)).collect()
    }
}

fn clip(stretch: &MonoRange, from: UtcMs, to: UtcMs) -> Option<MonoRange> {
    let clipped = MonoRange {
        from: stretch.from.max(MonoMs(from.0.saturating_sub(stretch.offset_ms))),
        to: stretch.to.min(MonoMs(to.0.saturating_sub(stretch.offset_ms))),
        ..*stretch
    };
    (clipped.from < clipped.to).then_some(clipped)
}

/// `fixes` are those of one boot, sorted by monotonic time.
fn stretches_of_boot(fixes: &[(BootNo, ClockFix)]) -> Vec<MonoRange> {
    let best = fixes.iter().map(|(_, fix)| fix.rank).max().unwrap_or(0);
    let counting = fixes.iter().filter(|(_, fix)| fix.rank == best);
    let taken_back = if best == BY_HAND { counting.clone().count().saturating_sub(1) } else { 0 };
    let mut stretches: Vec<MonoRange> = Vec::new();
    for (boot, fix) in counting.skip(taken_back) {
        let offset_ms = fix.utc.0.saturating_sub(fix.mono.0);
        let from = match stretches.last_mut() {
            // What came before the first believed fix is placed by it.
            None => MonoMs(i64::MIN),
            Some(last) if last.offset_ms == offset_ms => continue,
            Some(last) => {
                last.to = fix.mono;
                fix.mono
            }
        };
        stretches.push(MonoRange { boot: *boot, from, to: MonoMs(i64::MAX), offset_ms, rank: best });
    }
    stretches.retain(|stretch| stretch.from < stretch.to);
    stretches
}

#[cfg(test)]
mod tests;
