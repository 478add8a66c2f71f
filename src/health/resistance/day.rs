//! The steps of a day, and what they say together.

use serde::{Deserialize, Serialize};

use crate::health::day::day_of;
use crate::health::record::{Reach, ResistanceDay};
use crate::health::robust::centre;
use crate::health::watch::Aboard;
use crate::quantity::{Estimate, Minute, Moment};

/// Steps of a kind that are kept of a day: the surest.
const MOST: usize = 24;
/// Steps count from this state of charge up.
const UPPER_HALF: f64 = 0.5;
/// 1 σ of the state of charge beyond which nobody knows which half it is in (assumed).
const UNKNOWN: f64 = 0.15;
/// 1 σ of a temperature that no sensor says, K (assumed: below deck).
const UNREAD_K: f64 = 8.0;

/// One step, as read.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Step {
    pub reach: Reach,
    pub ohm: f64,
    pub std_dev: f64,
    pub monobloc_ohm: Vec<Option<f64>>,
    pub monobloc_std_dev: f64,
    pub temperature_c: Option<f64>,
}

/// The steps of a day so far.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub(super) struct Day {
    begin: Moment,
    second: Vec<Step>,
    minute: Vec<Step>,
}

impl Day {
    pub fn new(at: Moment) -> Day {
        Day { begin: day_of(at), second: Vec::new(), minute: Vec::new() }
    }

    /// Takes the day out of its place if a minute does not belong to it.
    pub fn closed_by(place: &mut Option<Day>, minute: &Minute) -> Option<Day> {
        place.take_if(|day| day.begin != day_of(minute.at))
    }

    /// Takes a step that was found in this minute, if the bank was in the upper half, and not where the last of the charge
    /// moves the voltage more than the load does (lithium).
    pub fn take(&mut self, aboard: &Aboard<'_>, mut step: Step, minute: &Minute) {
        let counts = UPPER_HALF..=aboard.bank.preset().voltage.readable_below;
        if !minute.soc.is_some_and(|soc| counts.contains(&soc.soc) && soc.std_dev() <= UNKNOWN) {
            return;
        }
        step.temperature_c = step.temperature_c.or(minute.temperature_c);
        let steps = match step.reach {
            Reach::Second => &mut self.second,
            Reach::Minute => &mut self.minute,
        };
        if steps.len() < MOST {
            steps.push(step);
        } else if let Some(worst) = steps.iter_mut().max_by(|a, b| a.std_dev.total_cmp(&b.std_dev))
            && step.std_dev < worst.std_dev
        {
            *worst = step;
        }
    }

    /// The medians of the day.
    pub fn results(&self, aboard: &Aboard<'_>) -> Vec<ResistanceDay> {
        let mut found = Vec::new();
        for (reach, steps) in [(Reach::Second, &self.second), (Reach::Minute, &self.minute)] {
            let whole = steps.iter().map(|step| (step, Some(step.ohm), step.std_dev));
            found.extend(self.result(aboard, reach, None, whole));
            let monoblocs = steps.iter().map(|step| step.monobloc_ohm.len()).max().unwrap_or(0);
            for (number, m) in (1..).zip(0..monoblocs) {
                let of_one =
                    steps.iter().map(|step| (step, step.monobloc_ohm.get(m).copied().flatten(), step.monobloc_std_dev));
                found.extend(self.result(aboard, reach, Some(number), of_one));
            }
        }
        found
    }

    fn result<'a>(
        &self,
        aboard: &Aboard<'_>,
        reach: Reach,
        monobloc: Option<u32>,
        steps: impl Iterator<Item = (&'a Step, Option<f64>, f64)>,
    ) -> Option<ResistanceDay> {
        let (mut bare, mut normal) = (Vec::new(), Vec::new());
        for (step, ohm, std_dev) in steps {
            let Some(value) = ohm else { continue };
            bare.push(Estimate { value, std_dev });
            normal.push(at_25_c(aboard, Estimate { value, std_dev }, step.temperature_c));
        }
        let (ohm, normal_ohm) = (centre(&bare)?, centre(&normal)?);
        let steps = u32::try_from(bare.len()).unwrap_or(u32::MAX);
        Some(ResistanceDay { day: self.begin, reach, monobloc, steps, ohm, normal_ohm })
    }
}

/// A resistance brought to 25 °C: it grows by the preset's part for each kelvin below, as an exponential.
fn at_25_c(aboard: &Aboard<'_>, ohm: Estimate, temperature_c: Option<f64>) -> Estimate {
    let per_k = aboard.bank.preset().voltage.resistance_per_k;
    let factor = temperature_c.map_or(1.0, |c| (-per_k * (25.0 - c)).exp());
    let unread = if temperature_c.is_some() { 0.0 } else { per_k * UNREAD_K * ohm.value };
    Estimate { value: ohm.value * factor, std_dev: (ohm.std_dev * factor).hypot(unread) }
}
