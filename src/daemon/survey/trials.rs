//! Capacity tests on the way of a survey. A test is taken up where its moment is walked over, so that another look at
//! everything finds what the first one found.

use serde::{Deserialize, Serialize};

use super::watches::Made;
use crate::health::{Aboard, Ended, Finding, Findings, Progress, TestBody, Told};
use crate::quantity::Minute;
use crate::store::{StoredTest, TestState};

/// Tests that are not over where the survey is.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub struct Trials {
    ahead: Vec<Trial>,
    /// The greatest number that was taken up.
    known: i64,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
struct Trial {
    id: i64,
    body: TestBody,
    /// Its boot has been come to.
    met: bool,
    /// It was over before this look at it: its result is not written again.
    over: bool,
}

impl Trials {
    /// Takes up tests that were begun since, and lets go of those that a hand has stopped.
    pub fn take_up(&mut self, stored: &[StoredTest]) {
        let state = |id: i64| stored.iter().find(|test| test.id == id).map(|test| test.state);
        self.ahead.retain(|trial| matches!(state(trial.id), Some(TestState::Running | TestState::Ended)));
        for test in stored.iter().rev().filter(|test| test.id > self.known) {
            let over = test.state == TestState::Ended;
            if over || test.state == TestState::Running {
                // One that cannot be read is left as it is.
                if let Ok(body) = serde_json::from_str::<TestBody>(&test.body) {
                    let body = TestBody { progress: Progress::default(), result: None, ..body };
                    self.ahead.push(Trial { id: test.id, body, met: false, over });
                }
            }
        }
        self.known = stored.iter().map(|test| test.id).max().unwrap_or(0).max(self.known);
    }

    /// True if one is running.
    pub fn any(&self) -> bool {
        self.ahead.iter().any(|trial| !trial.over)
    }

    /// Takes a minute.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, capacity: &mut Findings, made: &mut Made) {
        self.ahead.retain_mut(|trial| {
            let asked = trial.body.asked.at;
            let here = minute.at.boot == asked.boot;
            trial.met |= here;
            if !trial.met || (here && minute.at.mono < asked.mono) {
                return true;
            }
            let Some(ended) = trial.body.minute(aboard, minute) else { return true };
            if let Some(measured) = trial.body.measured(aboard).filter(|_| ended == Ended::AtCutOff) {
                made.out.findings.push(Finding::Capacity(capacity.test(aboard, &measured)));
            }
            if !trial.over {
                let state = if ended == Ended::AtCutOff { TestState::Ended } else { TestState::Broken };
                let text = format!("{}: capacity test: {}", aboard.bank.title, trial.body.text());
                made.out.told.push(Told { at: minute.at, kind: "capacity-test", priority: "note", text });
                made.tests.push((trial.id, state, trial.body.clone()));
            }
            false
        });
    }

    /// How far the running ones are.
    pub fn standing(&self, made: &mut Made) {
        let running = self.ahead.iter().filter(|trial| trial.met && !trial.over);
        made.tests.extend(running.map(|trial| (trial.id, TestState::Running, trial.body.clone())));
    }
}
