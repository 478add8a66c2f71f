//! A test as it runs.

use serde::{Deserialize, Serialize};

use super::before::{About, Latest, Precondition};
use super::ends::{Spent, reached, touched, watched};
use super::result::{Ran, TestResult};
use crate::battery::Bank;
use crate::health::capacity::{Measured, ToCutOff};
use crate::health::record::{Span, Watched};
use crate::health::watch::Aboard;
use crate::quantity::{Minute, Moment};

/// A test's load is at least this, A per Ah (assumed: the 50 h rate; what is gentler is rest).
const LEAST_RATE: f64 = 0.02;
/// How long the load may be awaited, s (assumed).
const AWAITED_S: f64 = 12.0 * 3600.0;
/// By how much the load may stray from its mean (common practice, no source), and for how many minutes in a row.
const STEADY: f64 = 0.05;
const STRAYS_MIN: u32 = 3;
/// Minutes that make the mean that the load is held to.
const SETTLED_MIN: u32 = 5;
/// What may be missing of a test, s in a row: it is filled with the load.
const BRIDGED_S: f64 = 120.0;

/// What is said of a test without a number.
const TOO_SHORT: &str = "The cut-off was met before the load could be measured: there is no result.";

/// What somebody asked for.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Asked {
    /// When.
    pub at: Moment,
    /// End of discharge, V of the whole bank.
    pub cut_off_v: f64,
    /// True if unmet preconditions and an unsteady load were not to stand in the way.
    pub anyway: bool,
    /// What was not met.
    pub unmet: Vec<Precondition>,
    /// What was known of the bank.
    pub latest: Latest,
    /// Capacity by the test before, parts of the rating.
    pub last: Option<f64>,
}

/// How far a test has come.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// First minute with the load.
    pub began: Option<Moment>,
    /// End of the last minute.
    pub to: Option<Moment>,
    /// Time since it was asked for, s.
    pub seconds: f64,
    /// Whole minutes with the load.
    pub minutes: u32,
    /// Charge taken out since the load began, Ah.
    pub charge_ah: f64,
    /// Mean load of the whole minutes, A.
    pub load_a: f64,
    /// Mean voltage of the last minute, V.
    pub voltage_v: Option<f64>,
    /// Temperature when the load began, °C.
    pub temperature_c: Option<f64>,
    /// Mean temperature under the load, °C.
    #[serde(default)]
    pub mean_temperature_c: Option<f64>,
    /// Minutes in a row with a load that strays.
    pub straying_min: u32,
    /// Minutes in all with a load that strays.
    pub strayed_min: u32,
    /// Charge that was filled in, Ah.
    pub filled_ah: f64,
    /// Mean voltage of each monobloc in the last minute, V, where they are measured.
    #[serde(default)]
    pub monobloc_v: Vec<Option<f64>>,
    /// Mean voltages of the minute before that, V: of the bank, then of each monobloc.
    #[serde(default)]
    pub earlier_v: Vec<Option<f64>>,
    /// The cut-off was touched in the last minute, after which nothing more was taken.
    pub touched: bool,
    /// The monobloc that was at its end before the bank was, by its number.
    #[serde(default)]
    pub weakest: Option<u32>,
}

/// How a test ended.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ended {
    /// At the cut-off: there is a result.
    AtCutOff,
    /// Something did not hold; the words say what.
    Broken,
}

/// A test: what is kept of it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TestBody {
    /// What was asked for.
    pub asked: Asked,
    /// How far it has come.
    pub progress: Progress,
    /// What it came to.
    pub result: Option<TestResult>,
    /// What is to be done while it runs; empty once it is over.
    #[serde(default)]
    pub guidance: String,
    /// What is to be said of it.
    pub words: Vec<String>,
}

impl TestBody {
    /// Starts a test. `cut_off_v`: of the whole bank, the chemistry's where `None`; `last`: capacity by the test before, parts of the
    /// rating.
    ///
    /// # Errors
    /// What is not met, in words, unless it is to run `anyway`.
    pub fn start(
        aboard: &Aboard<'_>,
        at: Moment,
        latest: Latest,
        cut_off_v: Option<f64>,
        last: Option<f64>,
        anyway: bool,
    ) -> Result<TestBody, Vec<Precondition>> {
        let bank = aboard.bank;
        let unmet: Vec<Precondition> =
            super::preconditions(aboard, &latest).into_iter().filter(|condition| !condition.met).collect();
        // A temperature that is told or missing is corrected or doubted; it does not stand in the way.
        if !anyway && unmet.iter().any(|condition| condition.about != About::Temperature) {
            return Err(unmet);
        }
        let cut_off_v = cut_off_v.unwrap_or(bank.preset().voltage.cut_off_v * f64::from(bank.cells_in_series));
        let words: Vec<String> = unmet.iter().map(|condition| condition.text.clone()).collect();
        let guidance = format!(
            "Switch on a steady load of at least {:.1} A, best the {:.1} A of the rating, which needs no correction for the rate, \
             and leave it on until the bank is down to {cut_off_v:.2} V. Then switch it off and charge at once.",
            LEAST_RATE * bank.rated_capacity_ah,
            bank.rated_capacity_ah / bank.rated_hours
        );
        Ok(TestBody {
            asked: Asked { at, cut_off_v, anyway, unmet, latest, last },
            progress: Progress::default(),
            result: None,
            guidance,
            words,
        })
    }

    /// Takes a minute after it was asked for. Says when the test is over.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute) -> Option<Ended> {
        let Some(unseen_s) = minute.unseen_s.filter(|&unseen_s| unseen_s <= BRIDGED_S) else {
            return Some(self.broken("Nobody watched for a while, so the charge is not known.".to_owned()));
        };
        self.progress.seconds += unseen_s + minute.covered_s;
        let loaded = minute.current_a.is_some_and(|a| a.mean <= -LEAST_RATE * aboard.bank.rated_capacity_ah);
        let ended = if self.progress.began.is_none() {
            self.wait(minute, loaded)
        } else {
            self.run(aboard.bank, minute, loaded, unseen_s)
        };
        self.progress.to = Some(minute.end());
        let progress = &mut self.progress;
        progress.earlier_v = std::iter::once(&progress.voltage_v).chain(&progress.monobloc_v).copied().collect();
        progress.voltage_v = minute.voltage_v.map(|v| v.mean);
        progress.monobloc_v = minute.monobloc_v.iter().map(|v| v.map(|v| v.mean)).collect();
        match ended {
            Some(Ended::AtCutOff) if self.progress.minutes == 0 => Some(self.broken(TOO_SHORT.to_owned())),
            Some(Ended::AtCutOff) => {
                self.finish(aboard.bank);
                Some(Ended::AtCutOff)
            }
            other => other,
        }
    }

    /// All that is to be said, for people.
    #[must_use]
    pub fn text(&self) -> String {
        let all = self.words.iter().chain(Some(&self.guidance).filter(|guidance| !guidance.is_empty()));
        all.map(String::as_str).collect::<Vec<_>>().join(" ")
    }

    /// Ends a test by hand; there is no result.
    pub fn stop(&mut self) {
        self.guidance.clear();
        self.words.push(format!(
            "Stopped by hand after {:.1} Ah, before the cut-off: that says nothing of the capacity.",
            self.progress.charge_ah
        ));
    }

    /// The finding of a test that ended at the cut-off, if the bank was full when it began.
    #[must_use]
    pub fn measured(&self, aboard: &Aboard<'_>) -> Option<Measured> {
        let (result, span) = (self.result.as_ref()?, self.span()?);
        let full_ago_s = self.asked.latest.full_ago_s?;
        if self.asked.unmet.iter().any(|condition| condition.about == About::Full) {
            return None;
        }
        let run = ToCutOff {
            drawn_ah: result.charge_ah + self.asked.latest.taken_since_full_ah,
            drawn_variance_ah2: self.progress.filled_ah.powi(2),
            charged_ah: 0.0,
            hours_since_full: (full_ago_s + self.progress.seconds) / 3600.0,
            load_a: result.load_a,
            recent_a: result.load_a,
            temperature_c: result.mean_temperature_c.or(result.temperature_c),
        };
        Some(Measured::to_cut_off(aboard.bank, Watched::Test, span, run))
    }

    /// From the first minute with the load to the last one.
    #[must_use]
    pub fn span(&self) -> Option<Span> {
        Some(Span { from: self.progress.began?, to: self.progress.to? })
    }

    /// Before the load.
    fn wait(&mut self, minute: &Minute, loaded: bool) -> Option<Ended> {
        let progress = &mut self.progress;
        if loaded {
            progress.began = Some(minute.at);
            progress.temperature_c = minute.temperature_c.or(self.asked.latest.temperature_c);
            progress.charge_ah = minute.charge_out_ah;
        } else if progress.seconds > AWAITED_S {
            return Some(self.broken(format!("No load came within {:.0} h.", AWAITED_S / 3600.0)));
        }
        None
    }

    /// Under the load.
    fn run(&mut self, bank: &Bank, minute: &Minute, loaded: bool, unseen_s: f64) -> Option<Ended> {
        let watched = watched(bank, self.asked.cut_off_v, &self.progress, minute);
        let touched = touched(&watched, self.progress.minutes);
        let reached = reached(&watched).filter(|_| loaded);
        let missing_s = unseen_s + (60.0 - minute.covered_s).max(0.0);
        let progress = &mut self.progress;
        let filled_ah = if loaded { progress.load_a * missing_s / 3600.0 } else { 0.0 };
        progress.filled_ah += filled_ah;
        progress.charge_ah += minute.charge_out_ah + filled_ah;
        if !loaded {
            if !progress.touched && touched.is_none() {
                return Some(self.broken("The load was switched off before the cut-off.".to_owned()));
            }
            progress.name(touched);
            return Some(Ended::AtCutOff);
        }
        let load_a = minute.current_a.map_or(0.0, |a| -a.mean);
        if let Some(celsius) = minute.temperature_c {
            let (mean_c, so_far) =
                (progress.mean_temperature_c.unwrap_or(celsius), progress.minutes + progress.strayed_min);
            progress.mean_temperature_c = Some(mean_c + (celsius - mean_c) / f64::from(so_far + 1));
        }
        progress.touched = touched.is_some();
        progress.name(touched);
        // The minute in which the load is switched off has a weaker one; the next tells.
        let steady = progress.minutes < SETTLED_MIN || (load_a / progress.load_a - 1.0).abs() <= STEADY;
        if let Some((spent, part)) = reached {
            // What was taken out after it does not count: from the middle of the minute before to the middle of this one is
            // a minute, and half a minute more to the end.
            progress.charge_ah -= progress.load_a * (60.0 * (1.0 - part) + 30.0) / 3600.0;
            progress.name(Some(spent));
            return Some(Ended::AtCutOff);
        }
        if steady {
            progress.minutes += 1;
            progress.load_a += (load_a - progress.load_a) / f64::from(progress.minutes);
            progress.straying_min = 0;
        } else {
            progress.straying_min += 1;
            progress.strayed_min += 1;
            if progress.straying_min >= STRAYS_MIN && !self.asked.anyway {
                let (is, was) = (load_a, progress.load_a);
                return Some(self.broken(format!(
                    "The load did not hold: {is:.1} A after a mean of {was:.1} A, more than {:.0} % away for {STRAYS_MIN} \
                     minutes. A test needs a load of steady current.",
                    100.0 * STEADY
                )));
            }
        }
        None
    }

    fn broken(&mut self, text: String) -> Ended {
        self.guidance.clear();
        self.words.push(text);
        Ended::Broken
    }

    /// Works out what a test that ended at the cut-off came to.
    fn finish(&mut self, bank: &Bank) {
        self.guidance.clear();
        if let Some(number) = self.progress.weakest {
            self.words.push(format!(
                "Monobloc {number} was at its end before the bank was at the cut-off: it holds less than the others, and what it \
                 gives is what the bank gives. Going on would have reversed one of its cells."
            ));
        }
        if self.asked.anyway {
            self.words.push(
                "Run although not all was as it should be: the result is to be read with that in mind.".to_owned(),
            );
        }
        let strayed_min = self.progress.strayed_min;
        if strayed_min > 0 {
            self.words.push(format!("The load strayed by more than {:.0} % in {strayed_min} minutes.", 100.0 * STEADY));
        }
        let load_a = if self.asked.anyway && strayed_min > 0 { self.whole_mean_a() } else { self.progress.load_a };
        let progress = &self.progress;
        let ran = Ran {
            charge_ah: progress.charge_ah,
            unseen_ah: progress.filled_ah,
            load_a,
            temperature_c: progress.temperature_c,
            mean_temperature_c: progress.mean_temperature_c,
        };
        let result = TestResult::of(bank, ran, self.asked.last);
        self.words.extend(result.words(bank));
        self.result = Some(result);
    }

    /// Mean load over the whole time, straying minutes among it.
    fn whole_mean_a(&self) -> f64 {
        let minutes = f64::from(self.progress.minutes + self.progress.strayed_min).max(1.0);
        self.progress.charge_ah * 60.0 / minutes
    }
}

impl Progress {
    /// Notes who was at its end; a bank at its cut-off needs no name.
    fn name(&mut self, spent: Option<Spent>) {
        if let Some(spent) = spent {
            self.weakest = match spent {
                Spent::Bank => None,
                Spent::Monobloc(number) => Some(number),
            };
        }
    }
}

#[cfg(test)]
mod tests;
