//! Finds passages in a bank's minutes.
//!
//! A minute is *under way* where the drive takes [`Rules::drive_load_a`], or where something else shows that the boat moves:
//! speed over ground, or charge that the drive gives back. Without a branch of the drive, or where that was not read, the
//! bank's own discharge of [`Rules::discharge_a`] counts instead. On shore power nothing is under way.
//!
//! A passage begins with the first minute of drive load or discharge, and is certain once the drive has run for
//! [`Rules::sustained_s`], or once [`Rules::discharge_share`] of the capacity has gone. It ends with the last minute under way
//! before [`Rules::settled_s`] on shore power, full or at rest. Without a drive to go by, charging is none of the three: it
//! stops that clock, as a generator at sea is no harbour. Time that nobody saw counts as rest, so that no passage
//! grows over days between two starts of the computer; where it is not known how long that was, a passage goes on
//! only if it was under way right before and right after.

use serde::{Deserialize, Serialize};

use super::circuits::through;
use super::record::Found;
use super::rules::Rules;
use crate::battery::{Purpose, Role};
use crate::health::{Aboard, FixMark};
use crate::quantity::{Minute, Moment};
use crate::reckoning::FixKind;

/// Seconds of a [`Minute`].
const MINUTE_S: f64 = 60.0;
/// What is not certain yet is dropped after so long a pause, s: a motor that was tried does not begin a passage of later.
const LULL_S: f64 = 3600.0;
/// After a restart of unknown length a passage goes on if no more than this was quiet around it, s: such restarts take minutes
/// (assumed).
const RESTART_S: f64 = 600.0;
/// A bank is full no more once this part of its rated capacity has gone since.
const FULL_SHARE: f64 = 0.01;

/// Watches a bank's minutes for passages. Its state is small, whatever it has seen.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Finder {
    run: Option<Run>,
    /// Net charge taken out since a full fix, Ah; `None` when the bank is not full.
    since_full_ah: Option<f64>,
}

/// What is a passage, or may become one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Run {
    begin: Moment,
    /// End of the last minute under way.
    last: Moment,
    /// Time on shore power, full or at rest since then, s.
    quiet_s: f64,
    /// Time of drive load, s.
    drive_s: f64,
    /// Net charge taken out where nothing is known of the drive, Ah.
    drawn_ah: f64,
    /// Whether it has been told.
    certain: bool,
}

/// What a minute says.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Sign {
    /// The drive takes charge.
    Drive,
    /// Nothing is known of the drive; the bank gives charge.
    Discharge,
    /// The boat moves.
    Moving,
    /// Nothing is known of the drive; the bank takes charge and is not full yet.
    Charging,
    /// On shore power, full, or at rest.
    Quiet,
}

impl Finder {
    /// Takes the next minute that the bank lived. What is found is appended: a passage once it is certain, with no end, and
    /// again, with the same beginning, when it has ended.
    pub fn minute(&mut self, aboard: &Aboard<'_>, rules: &Rules, minute: &Minute, found: &mut Vec<Found>) {
        if let Some(run) = &mut self.run {
            let unseen_s = minute.unseen_s.unwrap_or(rules.settled_s - RESTART_S);
            run.quiet_s += unseen_s.max(0.0);
            self.close_if_settled(rules, found);
        }
        let drive_a = through(aboard, minute, |branch| branch.purpose == Purpose::Drive && branch.role == Role::Load);
        self.follow_full(aboard, minute);
        let sign = self.sign(aboard, rules, minute, drive_a);
        if matches!(sign, Sign::Drive | Sign::Discharge) && self.run.is_none() {
            self.run = Some(Run {
                begin: minute.at,
                last: minute.end(),
                quiet_s: 0.0,
                drive_s: 0.0,
                drawn_ah: 0.0,
                certain: false,
            });
        }
        let Some(run) = &mut self.run else { return };
        match sign {
            Sign::Drive | Sign::Discharge | Sign::Moving => {
                run.last = minute.end();
                run.quiet_s = 0.0;
            }
            Sign::Quiet => run.quiet_s += MINUTE_S,
            Sign::Charging => {}
        }
        if sign == Sign::Drive {
            run.drive_s += MINUTE_S;
        }
        if drive_a.is_none() {
            run.drawn_ah += minute.charge_out_ah - minute.charge_in_ah;
        }
        let drawn_ah = rules.discharge_share * aboard.bank.rated_capacity_ah;
        if !run.certain && (run.drive_s >= rules.sustained_s || run.drawn_ah >= drawn_ah) {
            run.certain = true;
            found.push(Found { begin: run.begin, end: None });
        } else if !run.certain && run.drawn_ah < 0.0 {
            // All of it was put back: what comes next begins anew.
            self.run = None;
        }
        self.close_if_settled(rules, found);
    }

    /// Takes a fix; it comes after the minute that holds it.
    pub fn fix(&mut self, fix: &FixMark) {
        if fix.kind == FixKind::Full {
            self.since_full_ah = Some(0.0);
        }
    }

    fn follow_full(&mut self, aboard: &Aboard<'_>, minute: &Minute) {
        let Some(drawn_ah) = self.since_full_ah else { return };
        let drawn_ah = (drawn_ah + minute.charge_out_ah - minute.charge_in_ah).max(0.0);
        let seen = minute.unseen_s.is_some_and(|unseen_s| unseen_s < LULL_S);
        self.since_full_ah = (seen && drawn_ah < FULL_SHARE * aboard.bank.rated_capacity_ah).then_some(drawn_ah);
    }

    fn sign(&self, aboard: &Aboard<'_>, rules: &Rules, minute: &Minute, drive_a: Option<f64>) -> Sign {
        let gives = |current_a: Option<f64>| current_a.is_some_and(|current_a| current_a >= rules.drive_load_a);
        if gives(through(aboard, minute, |branch| branch.purpose == Purpose::Shore)) {
            return Sign::Quiet;
        }
        if drive_a.is_some_and(|drive_a| drive_a <= -rules.drive_load_a) {
            return Sign::Drive;
        }
        let given_back_a =
            through(aboard, minute, |branch| branch.purpose == Purpose::Drive && branch.role == Role::Source);
        if gives(drive_a) || gives(given_back_a) || minute.speed_kn.is_some_and(|kn| kn >= rules.under_way_kn) {
            return Sign::Moving;
        }
        if drive_a.is_some() || minute.covered_s <= 0.0 {
            return Sign::Quiet;
        }
        let current_a = (minute.charge_in_ah - minute.charge_out_ah) * 3600.0 / minute.covered_s;
        if current_a <= -rules.discharge_a {
            Sign::Discharge
        } else if current_a >= rules.discharge_a && self.since_full_ah.is_none() {
            Sign::Charging
        } else {
            Sign::Quiet
        }
    }

    fn close_if_settled(&mut self, rules: &Rules, found: &mut Vec<Found>) {
        let over = |run: &mut Run| {
            let pause_s = if run.certain { rules.settled_s } else { rules.settled_s.min(LULL_S) };
            run.quiet_s >= pause_s
        };
        if let Some(run) = self.run.take_if(over).filter(|run| run.certain) {
            found.push(Found { begin: run.begin, end: Some(run.last) });
        }
    }
}

#[cfg(test)]
mod tests;
