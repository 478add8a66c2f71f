//! The watch that makes findings of ordinary use.

use serde::{Deserialize, Serialize};

use super::combine::{Combined, Taken};
use super::leg::{Leg, efficiency_below_full};
use super::measured::{Measured, ToCutOff};
use super::rest::{Rest, RestWatch};
use super::total_least_squares::TotalLeastSquares;
use crate::battery::Bank;
use crate::health::record::{CapacityFinding, Finding, FixMark, Span, Watched};
use crate::health::watch::{Aboard, Out};
use crate::quantity::{Estimate, Minute, Moment};
use crate::reckoning::FixKind;

/// The least fall of the state of charge for a finding. The error of a full end alone, 1 %, is 4 % of the capacity then, and
/// grows without bound below.
const LEAST_FALL: f64 = 0.25;
/// From here a rest tells of the curve's error, if not of the capacity: what a charge has lifted is gone (assumed).
const CURVE_FALL: f64 = 0.10;
/// A finding that is less sure than this by itself is not kept, 1 σ, ratio (assumed): a rest on the plateau of iron phosphate.
const WORST: f64 = 0.25;
/// A rest that is less sure than this does not tell of the curve either, 1 σ, ratio (assumed: the plateau again, where the
/// way there lifts or lowers the voltage by more than ten per cent of the charge).
const WORST_ON_CURVE: f64 = 0.15;
/// Part of the sensor's offset in a finding's own variance from which the way up is taken with it (assumed).
const OFFSET_PART: f64 = 0.3;
/// A later rest takes the place of one that waits if its doubt is this part of the other's or less.
const CLEARLY: f64 = 0.9;
/// How long a rest waits for full, s.
const WAITS_S: f64 = 3.0 * 86_400.0;
/// How long a count is followed, s (assumed: efficiency and offset have eaten it by then).
const FOLLOWED_S: f64 = 30.0 * 86_400.0;
/// What nobody saw that a count bears, parts of the capacity (assumed).
const UNSEEN_AT_MOST: f64 = 0.05;
/// A bank has let go of full when this much has been drawn, parts of the capacity; before, a count back to nothing is float
/// and starts anew (assumed: twice what full is unsure by).
const LET_GO: f64 = 0.02;
/// A state of charge by hand that counts as full.
const FULL_BY_HAND: f64 = 0.995;
/// A capacity test and the empty fix at its end are one discharge when they end within this, s.
const SAME_END_S: f64 = 3600.0;
/// What all earlier pairs weigh in the yardstick when another comes (Plett 2011 uses 0.98 to 0.99).
const FORGETTING: f64 = 0.98;
/// Usual errors of a fall and of a charge in parts of the rating: the yardstick's scale.
const USUAL_ERRORS: (f64, f64) = (0.02, 0.01);
/// 1 σ of the rating that the yardstick starts from, ratio (as the combined estimate).
const RATING_STD_DEV: f64 = 0.05;

/// The way since full.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct SinceFull {
    leg: Leg,
    let_go: bool,
    /// The rest that tells most so far, and the way since; at most one finding comes of it.
    waiting: Option<Waiting>,
    used: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Waiting {
    rest: Rest,
    down: Leg,
    up: Leg,
}

#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct SinceRest {
    rest: Rest,
    leg: Leg,
}

/// What was known before the last discharge to the cut-off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
struct Undo {
    at_s: f64,
    combined: Combined,
    yardstick: TotalLeastSquares,
}

/// The capacity as all findings tell it, Ah at the rated hours and 25 °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CapacityNow {
    /// The estimate.
    pub combined_ah: Estimate,
    /// The yardstick: total least squares, which knows of no shared errors and no fade.
    pub total_least_squares_ah: Option<Estimate>,
}

/// Watches a bank for measurements of its capacity. Serialise it to go on later.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Findings {
    /// The bank's own time, s: what it lived through since the first minute.
    clock_s: f64,
    /// End of the last minute, and the current then, A.
    last: Option<(Moment, f64)>,
    rest: RestWatch,
    full: Option<SinceFull>,
    from_rest: Option<SinceRest>,
    combined: Combined,
    yardstick: TotalLeastSquares,
    undo: Option<Box<Undo>>,
    /// When the last capacity test ended, s of the bank's own time.
    tested_s: Option<f64>,
}

impl Findings {
    /// Nothing seen.
    #[must_use]
    pub fn new(aboard: &Aboard<'_>) -> Findings {
        let rating = Estimate { value: 1.0, std_dev: RATING_STD_DEV };
        let yardstick = TotalLeastSquares::new(USUAL_ERRORS.0 / USUAL_ERRORS.1, FORGETTING).knowing(rating);
        Findings {
            clock_s: 0.0,
            last: None,
            rest: RestWatch::default(),
            full: None,
            from_rest: None,
            combined: Combined::new(aboard.bank, 0.0),
            yardstick,
            undo: None,
            tested_s: None,
        }
    }

    /// Takes a minute.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, out: &mut Out) {
        let bank = aboard.bank;
        let current_a = minute.current_a.map_or(0.0, |current| current.mean);
        let Some(unseen_s) = minute.unseen_s else {
            self.break_off(aboard, out);
            self.clock_s += minute.covered_s;
            self.last = Some((minute.end(), current_a));
            return;
        };
        let (before, before_a) = self.last.unwrap_or((minute.at, current_a));
        let ended = if unseen_s > 0.0 { self.rest.end(bank) } else { None };
        if let Some(rest) = ended.or_else(|| self.rest.minute(bank, minute)) {
            self.rested(aboard, rest, before, out);
        }
        self.clock_s += unseen_s + minute.covered_s;
        // A minute that is not covered hides as much as the time before it.
        let hidden_s = unseen_s + (60.0 - minute.covered_s).max(0.0);
        for leg in self.legs() {
            leg.add(minute);
            if hidden_s > 0.0 {
                leg.unseen(bank, hidden_s, before_a, current_a);
            }
        }
        self.last = Some((minute.end(), current_a));
        self.hold_full(bank, minute.end());
        self.give_up(aboard, out);
    }

    /// Takes a fix. Of a rest the watch judges by the voltage itself, not by what the reckoning makes of it: that rests on
    /// the same count. What a hand says counts where it says full.
    pub fn fix(&mut self, aboard: &Aboard<'_>, fix: &FixMark, out: &mut Out) {
        match fix.kind {
            FixKind::Full => self.filled(aboard, fix.at, out),
            FixKind::Hand if fix.after.soc >= FULL_BY_HAND => self.filled(aboard, fix.at, out),
            FixKind::Empty => self.emptied(aboard, fix.at, out),
            FixKind::Rest | FixKind::Hand => {}
        }
    }

    /// Takes the finding of a capacity test that has just ended, and gives it back with what all findings tell now. If the
    /// same discharge has been taken as an ordinary one already, the test stands in for it.
    #[must_use]
    pub fn test(&mut self, aboard: &Aboard<'_>, measured: &Measured) -> CapacityFinding {
        if let Some(undo) = self.undo.take() {
            self.combined = undo.combined;
            self.yardstick = undo.yardstick;
        }
        self.tested_s = Some(self.clock_s);
        self.combine(aboard.bank, measured)
    }

    /// The current that belongs to no branch has changed by so much, A: the bank's sensor may read another zero from now on.
    pub fn sensor_may_have_moved(&mut self, aboard: &Aboard<'_>, by_a: f64) {
        self.combined.offset_may_have_moved(by_a / aboard.bank.rated_capacity_ah);
    }

    /// The capacity some seconds after the last minute; `None` before a finding.
    #[must_use]
    pub fn capacity(&self, aboard: &Aboard<'_>, later_s: f64) -> Option<CapacityNow> {
        let bank = aboard.bank;
        let combined_ah = self.combined.capacity(bank, self.clock_s + later_s)?;
        let rated_ah = bank.rated_capacity_ah;
        let total_least_squares_ah = self
            .yardstick
            .slope()
            .map(|slope| Estimate { value: slope.value * rated_ah, std_dev: slope.std_dev * rated_ah });
        Some(CapacityNow { combined_ah, total_least_squares_ah })
    }

    fn legs(&mut self) -> impl Iterator<Item = &mut Leg> {
        let full = self.full.iter_mut().flat_map(|since| {
            std::iter::once(&mut since.leg).chain(since.waiting.iter_mut().map(|waiting| &mut waiting.up))
        });
        full.chain(self.from_rest.iter_mut().map(|since| &mut since.leg))
    }

    /// While nothing has been drawn the bank is still full, whatever trickled in.
    fn hold_full(&mut self, bank: &Bank, at: Moment) {
        let Some(since) = self.full.as_mut().filter(|since| !since.let_go) else { return };
        let drawn_ah = since.leg.drawn_ah(bank, 1.0);
        if drawn_ah <= 0.0 {
            since.leg = Leg::begin(at);
        } else if drawn_ah > LET_GO * bank.rated_capacity_ah {
            since.let_go = true;
        }
    }

    fn filled(&mut self, aboard: &Aboard<'_>, at: Moment, out: &mut Out) {
        if let Some(waiting) = self.take_waiting() {
            let down = Measured::to_rest(aboard.bank, None, &waiting.rest, &waiting.down, waiting.up.from);
            let measured = if down.of_offset(aboard.bank) > OFFSET_PART {
                Measured::both_ways(aboard.bank, &waiting.rest, &waiting.down, &waiting.up, at)
            } else {
                down
            };
            self.found(aboard, &measured, out);
        }
        self.full = Some(SinceFull { leg: Leg::begin(at), let_go: false, waiting: None, used: false });
        self.from_rest = None;
    }

    fn emptied(&mut self, aboard: &Aboard<'_>, at: Moment, out: &mut Out) {
        if self.tested_s.is_some_and(|ended_s| self.clock_s - ended_s < SAME_END_S) {
            return;
        }
        let Some(since) = self.full.as_ref() else { return };
        let bank = aboard.bank;
        let leg = since.leg;
        let run = ToCutOff {
            drawn_ah: leg.drawn_ah(bank, efficiency_below_full(bank)),
            drawn_variance_ah2: leg.own_variance_ah2(bank),
            charged_ah: leg.in_ah,
            hours_since_full: leg.hours(),
            load_a: leg.load_a(),
            recent_a: leg.recent_a,
            temperature_c: leg.temperature_c(),
        };
        if run.drawn_ah < LEAST_FALL * bank.rated_capacity_ah {
            return;
        }
        self.emit_waiting(aboard, out);
        let undo = Undo { at_s: self.clock_s, combined: self.combined.clone(), yardstick: self.yardstick };
        let measured = Measured::to_cut_off(bank, Watched::FullToEmpty, Span { from: leg.from, to: at }, run);
        self.found(aboard, &measured, out);
        self.undo = Some(Box::new(undo));
        // A cut-off is met again and again by a load that comes and goes; the first one counts.
        self.full = None;
    }

    fn rested(&mut self, aboard: &Aboard<'_>, rest: Rest, at: Moment, out: &mut Out) {
        let bank = aboard.bank;
        if let Some(since) = self.full.as_mut() {
            let measured = Measured::to_rest(bank, None, &rest, &since.leg, at);
            let drawn = measured.evidence.drawn;
            let waiting = Waiting { rest, down: since.leg, up: Leg::begin(at) };
            if since.used {
                self.rest_to_rest(aboard, rest, at, out);
            } else if drawn.min(measured.finding.soc_fall.value) >= LEAST_FALL && measured.doubt() < WORST {
                let better = since.waiting.is_none_or(|earlier| {
                    let down = Measured::to_rest(bank, None, &earlier.rest, &earlier.down, earlier.up.from);
                    measured.doubt() < CLEARLY * down.doubt()
                });
                if better {
                    since.waiting = Some(waiting);
                }
                self.from_rest = Some(SinceRest { rest, leg: Leg::begin(at) });
            } else if drawn >= CURVE_FALL && measured.finding.soc_fall.std_dev < WORST_ON_CURVE {
                // No finding, but with all the others it may help.
                self.combined.take(bank, self.clock_s, &measured.evidence);
            }
            return;
        }
        self.rest_to_rest(aboard, rest, at, out);
    }

    /// A rest after a rest. The earlier one stays the beginning until enough has been drawn, or more has come in.
    fn rest_to_rest(&mut self, aboard: &Aboard<'_>, rest: Rest, at: Moment, out: &mut Out) {
        if let Some(since) = self.from_rest {
            let measured = Measured::to_rest(aboard.bank, Some(&since.rest), &rest, &since.leg, at);
            let fall = measured.evidence.drawn.min(measured.finding.soc_fall.value);
            if (0.0..LEAST_FALL).contains(&fall) {
                return;
            }
            if fall >= LEAST_FALL && measured.doubt() < WORST {
                self.found(aboard, &measured, out);
            }
        }
        self.from_rest = Some(SinceRest { rest, leg: Leg::begin(at) });
    }

    /// Nobody can tell what happened: what waits is said, and the counts are dropped.
    fn break_off(&mut self, aboard: &Aboard<'_>, out: &mut Out) {
        self.emit_waiting(aboard, out);
        self.rest = RestWatch::default();
        self.full = None;
        self.from_rest = None;
    }

    fn give_up(&mut self, aboard: &Aboard<'_>, out: &mut Out) {
        let most_ah = UNSEEN_AT_MOST * aboard.bank.rated_capacity_ah;
        let lost = |leg: &Leg| leg.unseen_ah > most_ah || leg.seconds > FOLLOWED_S;
        if self.full.as_ref().is_some_and(|since| {
            since.waiting.is_some_and(|waiting| waiting.up.seconds > WAITS_S || lost(&waiting.up)) || lost(&since.leg)
        }) {
            self.emit_waiting(aboard, out);
        }
        if self.full.as_ref().is_some_and(|since| lost(&since.leg)) {
            self.full = None;
        }
        if self.from_rest.is_some_and(|since| lost(&since.leg)) {
            self.from_rest = None;
        }
        if self.undo.as_ref().is_some_and(|undo| self.clock_s - undo.at_s > SAME_END_S) {
            self.undo = None;
        }
    }

    fn take_waiting(&mut self) -> Option<Waiting> {
        let since = self.full.as_mut()?;
        let waiting = since.waiting.take()?;
        since.used = true;
        Some(waiting)
    }

    fn emit_waiting(&mut self, aboard: &Aboard<'_>, out: &mut Out) {
        if let Some(waiting) = self.take_waiting() {
            let measured = Measured::to_rest(aboard.bank, None, &waiting.rest, &waiting.down, waiting.up.from);
            self.found(aboard, &measured, out);
        }
    }

    fn found(&mut self, aboard: &Aboard<'_>, measured: &Measured, out: &mut Out) {
        let finding = self.combine(aboard.bank, measured);
        out.findings.push(Finding::Capacity(finding));
    }

    fn combine(&mut self, bank: &Bank, measured: &Measured) -> CapacityFinding {
        let Taken { believed, corrected } = self.combined.take(bank, self.clock_s, &measured.evidence);
        let rated_ah = bank.rated_capacity_ah;
        let finding = &measured.finding;
        let count = measured.count_std_dev_ah(bank) / rated_ah;
        self.yardstick.add(finding.soc_fall, Estimate { value: measured.evidence.drawn, std_dev: count });
        let combined_ah = self.combined.capacity(bank, self.clock_s);
        let corrected_ah = Estimate { value: corrected.value * rated_ah, std_dev: corrected.std_dev * rated_ah };
        CapacityFinding {
            combined_ah,
            corrected_ah: Some(corrected_ah),
            onward: Some(self.combined.onward()),
            believed,
            ..finding.clone()
        }
    }
}

#[cfg(test)]
mod tests;
