//! A resistance that has risen all at once: a connection that has come loose or corrodes, or a monobloc that fails.
//!
//! Rule: on three days in a row that had steps, the resistance within a second was higher than its median over up to 30
//! such days before, by a fifth and by five times the scatter of those days. Monoblocs are compared with the median of all
//! on the same day, so that cold and ageing, which come to all, cancel. For the whole bank the part that builds up within
//! the minute must not have risen alike: that would be the electrodes and not a contact.
//!
//! False alarms: days that scatter as a normal distribution exceed five σ once in 3.5 million; with heavy tails (Student's
//! t with 3 degrees of freedom) once in 180, three times in a row once in six million days, and by a fifth as well more
//! seldom still. The rule is tested on such days.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::health::record::{Reach, ResistanceDay};
use crate::health::robust::median;
use crate::health::robust::middle_and_spread;
use crate::health::watch::{Aboard, Out, Told};
use crate::quantity::Moment;

/// Days that a baseline rests on at most, and at least.
const DAYS_MOST: usize = 30;
/// See above.
const DAYS_LEAST: usize = 10;
/// Days in a row.
const RECENT: usize = 3;
/// Rise that is told, ratio (common practice, no source: a fifth above the baseline calls for an inspection).
const RISE: f64 = 0.2;
/// Times the scatter of the days.
const TIMES: f64 = 5.0;

/// Daily values of one resistance, as logarithms, the latest last.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
struct Line(VecDeque<f64>);

/// The lines of the monoblocs and of the bank.
#[derive(Debug, Clone, Default, Serialize, Deserialize)]
pub(super) struct Rise {
    monoblocs: Vec<Line>,
    second: Line,
    rest_of_minute: Line,
}

impl Line {
    /// Takes a day's resistance. Says by what part it has risen, where it has.
    fn take(&mut self, ln_ohm: f64) -> Option<f64> {
        self.0.push_back(ln_ohm);
        if self.0.len() > DAYS_MOST + RECENT {
            self.0.pop_front();
        }
        let baseline = self.0.len().checked_sub(RECENT).filter(|&days| days >= DAYS_LEAST)?;
        let (middle, spread) = middle_and_spread(&self.0.range(..baseline).copied().collect::<Vec<_>>())?;
        let least = self.0.range(baseline..).fold(f64::INFINITY, |least, value| least.min(value - middle));
        (least > (1.0 + RISE).ln() && least > TIMES * spread).then(|| least.exp_m1())
    }

    /// By what part the last days lie above those before; 0 where nobody knows.
    fn risen(&self) -> f64 {
        let Some(baseline) = self.0.len().checked_sub(RECENT).filter(|&days| days > 0) else { return 0.0 };
        let middle = |from, to| median(&mut self.0.range(from..to).copied().collect::<Vec<_>>()).unwrap_or(0.0);
        (middle(baseline, self.0.len()) - middle(0, baseline)).exp_m1()
    }

    /// What was told becomes what is usual.
    fn forget(&mut self) {
        let known = self.0.len().saturating_sub(RECENT);
        self.0.drain(..known);
    }
}

impl Rise {
    /// Takes the results of a day.
    pub fn look(&mut self, aboard: &Aboard<'_>, found: &[ResistanceDay], at: Moment, out: &mut Out) {
        let of = |reach, monobloc| {
            let this = |day: &&ResistanceDay| day.reach == reach && day.monobloc == monobloc;
            found.iter().find(this).map(|day| day.normal_ohm.value).filter(|ohm| *ohm > 0.0)
        };
        let Some(second) = of(Reach::Second, None) else { return };
        let told = self.monobloc(aboard, &of, at, out);
        if let Some(minute) = of(Reach::Minute, None).filter(|minute| *minute > second) {
            self.rest_of_minute.take((minute - second).ln());
        }
        if let Some(risen) = self.second.take(second.ln())
            && self.rest_of_minute.risen() < risen / 2.0
        {
            self.second.forget();
            if !told {
                out.told.push(warning(aboard, at, "the resistance of the whole bank", risen));
            }
        }
    }

    fn monobloc(
        &mut self,
        aboard: &Aboard<'_>,
        of: &dyn Fn(Reach, Option<u32>) -> Option<f64>,
        at: Moment,
        out: &mut Out,
    ) -> bool {
        let values: Vec<f64> = (1..).map_while(|number| of(Reach::Second, Some(number))).map(f64::ln).collect();
        if values.len() < 3 {
            return false;
        }
        let Some(middle) = median(&mut values.clone()) else { return false };
        if self.monoblocs.len() != values.len() {
            self.monoblocs = vec![Line::default(); values.len()];
        }
        let mut told = false;
        for (number, (line, value)) in (1..).zip(self.monoblocs.iter_mut().zip(&values)) {
            let number: u32 = number;
            if let Some(risen) = line.take(value - middle) {
                line.forget();
                told = true;
                out.told.push(warning(aboard, at, &format!("the resistance of monobloc {number}"), risen));
            }
        }
        told
    }
}

fn warning(aboard: &Aboard<'_>, at: Moment, what: &str, risen: f64) -> Told {
    Told {
        at,
        kind: "resistance-rise",
        priority: "warning",
        text: format!(
            "{}: {what} within a second has risen by {:.0} % and stayed so on three days. Usual cause: a terminal or link \
             that is loose or corroded; it can get hot under load. Have the connections inspected with the bank isolated.",
            aboard.bank.title,
            100.0 * risen
        ),
    }
}
