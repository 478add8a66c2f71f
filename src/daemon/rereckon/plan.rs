//! What is reckoned again: in which order, from when on, and from what start.
//!
//! **Lines.** The computer's own boots follow each other as the bank lived them: one line of reckoning, with time off
//! between them, as at a start of the daemon. A trace that was brought in later than all before it was the bank's present
//! when it came, and stands in that line; one that lies in the past has a line of its own, which begins with an unknown
//! charge. That is the distinction of `import`, made by the clock fixes known now. What `import --charge` said is stored
//! nowhere and not repeated. A boot that no clock fix places takes no part, here as in all reading.

use std::collections::{BTreeMap, BTreeSet};

use crate::daemon::records::HAND_ZERO;
use crate::quantity::{BootNo, Moment, MonoMs, Timeline, UtcMs};
use crate::reckoning::{FixKind, Start};
use crate::store::{StoredEvent, StoredFix};

/// From when on, and from what start.
#[derive(Debug, Clone, Copy, Default)]
pub struct Wish {
    /// Results before it stay as they are; `None` for everything.
    pub from: Option<UtcMs>,
    /// What is known of the charge where the bank's own line begins; without it: full at the last full fix up to `from`,
    /// else unknown.
    pub start: Option<Start>,
}

/// What the store knows of a bank.
#[derive(Debug)]
pub struct Known<'a> {
    /// Where its boots lie in UTC.
    pub timeline: &'a Timeline,
    /// Last moment of the main device in each boot that has samples of it, in the order of the boots.
    pub last: Vec<Moment>,
    /// Boots that are traces.
    pub imported: BTreeSet<BootNo>,
    /// All its fixes.
    pub fixes: Vec<StoredFix>,
    /// All its events.
    pub events: Vec<StoredEvent>,
}

/// What somebody did by hand.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Act {
    /// Stated the charge, as of a fix's row.
    Fix {
        /// State of charge, ratio.
        soc: f64,
        /// 1 σ, ratio.
        std_dev: f64,
    },
    /// Stated that no current flows.
    Zero,
}

/// Boots that are reckoned one after the other.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// True for the bank's own line, which its present state comes from.
    pub own: bool,
    /// What is known where it begins.
    pub start: Start,
    /// Its first moment to be reckoned.
    pub begin: Moment,
    /// Its boots from there on, each with whether it is a trace.
    pub boots: Vec<(BootNo, bool)>,
    /// What was done by hand since, in that order.
    pub acts: Vec<(Moment, Act)>,
}

/// What is to be done.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Plan {
    /// The lines that have something to be reckoned, the bank's own as the last.
    pub lines: Vec<Line>,
    /// From when on each boot's results are new; those of other boots stay.
    pub renewed: BTreeMap<BootNo, MonoMs>,
}

impl Plan {
    /// True if what belongs to a moment is made anew.
    pub fn renews(&self, at: Moment) -> bool {
        self.renewed.get(&at.boot).is_some_and(|from| at.mono >= *from)
    }

    /// Makes the plan.
    pub fn new(known: &Known<'_>, wish: Wish) -> Plan {
        let (own, sides) = lines_of(known);
        let mut plan = Plan::default();
        for boots in sides.iter().filter(|side| !side.is_empty()) {
            plan.add(known, boots, Wish { start: None, ..wish }, false);
        }
        plan.add(known, &own, wish, true);
        plan
    }

    fn add(&mut self, known: &Known<'_>, boots: &[Moment], wish: Wish, own: bool) {
        let Some((cut_place, cut)) = cut(known.timeline, boots, wish.from) else { return };
        let known_start = wish.start.or(wish.from.is_none().then_some(Start::Unknown));
        let (start, place, begin) = match (known_start, last_full(known, boots, (cut_place, cut.mono))) {
            (Some(start), _) => (start, cut_place, cut),
            (None, Some((place, full))) => (Start::Full, place, full),
            (None, None) => (Start::Unknown, cut_place, cut),
        };
        self.renewed.insert(cut.boot, cut.mono);
        self.renewed.extend(boots[cut_place + 1..].iter().map(|last| (last.boot, MonoMs(i64::MIN))));
        let boots = &boots[place..];
        self.lines.push(Line {
            own,
            start,
            begin,
            boots: boots.iter().map(|last| (last.boot, known.imported.contains(&last.boot))).collect(),
            acts: acts_of(known, boots, begin.mono),
        });
    }
}

/// The boots of the bank's own line, and those of each line beside it; a boot by its last moment.
fn lines_of(known: &Known<'_>) -> (Vec<Moment>, Vec<Vec<Moment>>) {
    let utc = |at| known.timeline.utc(at).map(|placed| placed.utc);
    let (mut own, mut sides) = (Vec::<Moment>::new(), Vec::new());
    for &last in &known.last {
        if utc(last).is_none() {
            continue;
        }
        let begins = utc(Moment { mono: MonoMs(0), ..last });
        let present = own.last().and_then(|last| utc(*last));
        if known.imported.contains(&last.boot) && present > begins {
            sides.push(vec![last]);
        } else {
            own.push(last);
        }
    }
    (own, sides)
}

/// The first moment of a line at or after a time, with its boot's place; `None` if nothing is so late. Where the clock was
/// stepped back, that is the first time that it showed so much; what comes after in the line comes after.
fn cut(timeline: &Timeline, boots: &[Moment], from: Option<UtcMs>) -> Option<(usize, Moment)> {
    let Some(from) = from else { return boots.first().map(|first| (0, Moment { mono: MonoMs(i64::MIN), ..*first })) };
    let ranges = timeline.ranges(from, UtcMs(i64::MAX));
    boots.iter().enumerate().find_map(|(place, last)| {
        let mono = ranges.iter().filter(|range| range.boot == last.boot).map(|range| range.from).min()?;
        (mono <= last.mono).then_some((place, Moment { mono, ..*last }))
    })
}

/// The last full fix of a line up to a place and moment in it, with its boot's place.
fn last_full(known: &Known<'_>, boots: &[Moment], until: (usize, MonoMs)) -> Option<(usize, Moment)> {
    let full = known.fixes.iter().filter(|stored| stored.fix.kind == FixKind::Full.word());
    full.filter_map(|stored| {
        let place = boots.iter().position(|last| last.boot == stored.fix.at.boot)?;
        ((place, stored.fix.at.mono) <= until).then_some((place, stored.fix.at))
    })
    .max_by_key(|(place, at)| (*place, at.mono))
}

/// What was done by hand in a line since `begin` in its first boot. Of a setting of the zero that was repeated within the
/// hour, the store knows the first and the last time.
fn acts_of(known: &Known<'_>, boots: &[Moment], begin: MonoMs) -> Vec<(Moment, Act)> {
    let fixes = known.fixes.iter().filter(|stored| stored.fix.kind == FixKind::Hand.word()).map(|stored| {
        let after = stored.fix.after;
        (stored.fix.at, Act::Fix { soc: after.soc, std_dev: after.std_dev() })
    });
    let zeros = known.events.iter().filter(|stored| stored.event.kind == HAND_ZERO);
    let zeros = zeros.flat_map(|stored| {
        let last = (stored.count > 1).then_some(stored.event.at);
        [Some(stored.first), last].into_iter().flatten().map(|at| (at, Act::Zero))
    });
    let mut acts: Vec<(usize, Moment, Act)> = fixes
        .chain(zeros)
        .filter_map(|(at, act)| {
            let place = boots.iter().position(|last| last.boot == at.boot)?;
            (place > 0 || at.mono >= begin).then_some((place, at, act))
        })
        .collect();
    acts.sort_by_key(|(place, at, _)| (*place, at.mono));
    acts.into_iter().map(|(_, at, act)| (at, act)).collect()
}
