//! The watch over days.

use serde::{Deserialize, Serialize};

use super::growth::{Changed, Growth};
use super::levels::Levels;
use crate::health::day::day_of;
use crate::health::record::{Finding, UseDay};
use crate::health::watch::{Aboard, Out, Told};
use crate::quantity::{Estimate, Minute};

/// Width of a level of current, A per Ah: 30 mA on 120 Ah.
const LEVEL_RATE: f64 = 0.000_25;
/// Width of a level at least, A: no finer than a sensor's noise.
const LEVEL_LEAST_A: f64 = 0.01;
/// Minutes that a level must last.
const STAYS: u32 = 20;
/// Minutes of quiet in a day below which it says nothing of its standing load (assumed).
const QUIET_LEAST: u32 = 60;
/// Bank and branches below this are quiet, A per Ah: an error of the gain then makes no more of the residual than half a
/// per cent of it.
const QUIET_RATE: f64 = 0.05;
/// A branch that brings more than this into the bank hides its load, A per Ah.
const SOURCE_RATE: f64 = 0.001;
/// Part of a computed remainder that comes and goes with what people leave switched on (assumed).
const LEFT_ON: f64 = 0.3;

/// Sums up days, and watches what nothing accounts for.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct Days {
    today: Option<Today>,
    growth: Growth,
}

/// A day so far.
#[derive(Debug, Clone, Serialize, Deserialize)]
struct Today {
    sums: UseDay,
    temperature_sum: f64,
    /// Load of the bank (≥ 0) while nothing charged, A.
    load: Levels,
    /// What the measured branches leave of the bank's load, A, in quiet minutes.
    rest: Levels,
}

impl Days {
    /// A watch that has seen nothing.
    #[must_use]
    pub fn new(_aboard: &Aboard<'_>) -> Days {
        Days { today: None, growth: Growth::default() }
    }

    /// Takes a minute; closes the day with the first of the next. Says by how much what belongs to no branch has changed, A, when it has:
    /// a load came or went, or a sensor reads another zero.
    pub fn minute(&mut self, aboard: &Aboard<'_>, minute: &Minute, out: &mut Out) -> Option<f64> {
        let yesterday = self.today.take_if(|day| day.sums.day != day_of(minute.at));
        let changed_a = yesterday.and_then(|day| self.close(aboard, day, minute, out));
        let rated_ah = aboard.bank.rated_capacity_ah;
        self.today.get_or_insert_with(|| Today::new(rated_ah, minute)).take(aboard, minute);
        changed_a
    }

    fn close(&mut self, aboard: &Aboard<'_>, day: Today, minute: &Minute, out: &mut Out) -> Option<f64> {
        let (sums, rest) = day.finish(aboard);
        out.findings.push(Finding::Use(sums));
        let rest = rest?;
        let computed = aboard.branches.iter().find(|branch| branch.channel.is_none());
        let part = if computed.is_some() { LEFT_ON } else { 0.0 };
        let changed = self.growth.take(rest.value, offsets_a(aboard), part)?;
        if changed.added_a > 0.0 {
            let text = words(aboard, computed.map(|branch| branch.title.as_str()), changed);
            out.told.push(Told { at: minute.at, kind: "unaccounted-load", priority: "caution", text });
        }
        Some(changed.added_a)
    }
}

impl Today {
    fn new(rated_ah: f64, minute: &Minute) -> Today {
        let levels = Levels::new((LEVEL_RATE * rated_ah).max(LEVEL_LEAST_A));
        let sums = UseDay {
            day: day_of(minute.at),
            covered_s: 0.0,
            charge_in_ah: 0.0,
            charge_out_ah: 0.0,
            energy_in_wh: 0.0,
            energy_out_wh: 0.0,
            lowest_soc: None,
            highest_soc: None,
            soc_tenths_s: [0.0; 10],
            temperature_s: [0.0; 6],
            temperature_c: None,
            full_s: 0.0,
            standing_a: None,
            cold_charge_ah: 0.0,
            unaccounted_a: None,
        };
        Today { sums, temperature_sum: 0.0, load: levels.clone(), rest: levels }
    }

    fn take(&mut self, aboard: &Aboard<'_>, minute: &Minute) {
        let day = &mut self.sums;
        day.covered_s += minute.covered_s;
        day.charge_in_ah += minute.charge_in_ah;
        day.charge_out_ah += minute.charge_out_ah;
        day.energy_in_wh += minute.energy_in_wh;
        day.energy_out_wh += minute.energy_out_wh;
        if let Some(soc) = minute.soc.map(|soc| soc.soc.clamp(0.0, 1.0)) {
            day.lowest_soc = Some(day.lowest_soc.map_or(soc, |lowest| lowest.min(soc)));
            day.highest_soc = Some(day.highest_soc.map_or(soc, |highest| highest.max(soc)));
            day.soc_tenths_s[place(10.0 * soc, 9)] += minute.covered_s;
        }
        if let Some(c) = minute.temperature_c {
            day.temperature_s[place(c / 10.0 + 1.0, 5)] += minute.covered_s;
            self.temperature_sum += c * minute.covered_s;
            day.cold_charge_ah += if c < 0.0 { minute.charge_in_ah } else { 0.0 };
        }
        if let (Some(current), Some(voltage)) = (minute.current_a, minute.voltage_v)
            && aboard.bank.full.met_by(voltage.mean, current.mean, minute.temperature_c.unwrap_or(25.0))
        {
            day.full_s += minute.covered_s;
        }
        self.levels(aboard, minute);
    }

    fn levels(&mut self, aboard: &Aboard<'_>, minute: &Minute) {
        let Some(current) = minute.current_a else { return };
        let rated_ah = aboard.bank.rated_capacity_ah;
        let measured = || aboard.branches.iter().filter(|branch| branch.channel.is_some()).zip(&minute.branch_a);
        let charged = measured().any(|(_, a)| a.is_some_and(|a| a > SOURCE_RATE * rated_ah));
        if current.mean <= 0.0 && current.max.value <= SOURCE_RATE * rated_ah && !charged {
            self.load.take(-current.mean);
        }
        let quiet = |a: f64| a.abs() <= QUIET_RATE * rated_ah;
        let branches: Option<f64> = measured().map(|(_, a)| a.filter(|a| quiet(*a))).sum();
        if let Some(branches) = branches
            && measured().count() > 0
            && quiet(current.mean)
            && quiet(current.min.value)
            && quiet(current.max.value)
        {
            self.rest.take(branches - current.mean);
        }
    }

    /// The day's record, and what the branches leave, A (a load is positive).
    fn finish(self, aboard: &Aboard<'_>) -> (UseDay, Option<Estimate>) {
        let mut day = self.sums;
        let read_s: f64 = day.temperature_s.iter().sum();
        day.temperature_c = (read_s > 0.0).then(|| self.temperature_sum / read_s);
        let enough = |levels: &Levels| if levels.minutes() < QUIET_LEAST { None } else { levels.lowest(STAYS) };
        let offset_a = aboard.bank.sensor.offset_a;
        day.standing_a = enough(&self.load)
            .map(|load| Estimate { value: load.value.max(0.0), std_dev: load.std_dev.hypot(offset_a) });
        let rest = enough(&self.rest);
        if aboard.branches.iter().all(|branch| branch.channel.is_some()) {
            day.unaccounted_a =
                rest.map(|rest| Estimate { value: -rest.value, std_dev: rest.std_dev.hypot(offsets_a(aboard)) });
        }
        (day, rest)
    }
}

/// The offsets of all sensors together, 1 σ, A.
fn offsets_a(aboard: &Aboard<'_>) -> f64 {
    let branches = aboard.branches.iter().filter(|branch| branch.channel.is_some());
    branches.fold(aboard.bank.sensor.offset_a, |sum, branch| sum.hypot(branch.sensor.offset_a))
}

/// The class that a value belongs to; beyond the first and last it is those.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the classes before")]
fn place(value: f64, last: u32) -> usize {
    value.floor().clamp(0.0, f64::from(last)) as usize
}

fn words(aboard: &Aboard<'_>, computed: Option<&str>, grown: Changed) -> String {
    let (bank, added_a, before_a) = (&aboard.bank.title, grown.added_a, grown.before_a);
    let day_ah = added_a * 24.0;
    match computed {
        Some(title) => format!(
            "{bank}: the least that \"{title}\" draws has grown by {added_a:.2} A, from {before_a:.2} A, for three days: \
             {day_ah:.1} Ah a day. Something is left switched on or draws more than it used to; find it by switching off one \
             circuit after the other. If the charge counted between two full charges no longer balances as it did, it is \
             the current sensor's zero that has moved."
        ),
        None => format!(
            "{bank}: a load of {added_a:.2} A belongs to no measured branch and was not there before, for three days: \
             {day_ah:.1} Ah a day. Find it by switching off one circuit after the other. If the charge counted between two \
             full charges no longer balances as it did, it is the current sensor's zero that has moved."
        ),
    }
}
