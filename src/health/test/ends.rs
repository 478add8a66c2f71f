//! What ends a capacity test: the bank at its cut-off, or a monobloc that is so far down before the bank is that going on would
//! reverse one of its cells. What a bank gives is what its weakest monobloc gives.

use super::run::Progress;
use crate::battery::{Bank, Family};
use crate::quantity::{Minute, Spread};

/// Load and recorder each have a voltmeter of their own, which agree within this part (assumed): a load that switches itself off
/// so near above the end has met it.
const METERS_AGREE: f64 = 0.005;
/// So has one that switches itself off so fast on the way there that no sample shows the end, or when this part of the test was
/// left to it at the fall of the last minutes (assumed: less than a test repeats by). A guard of one monobloc is one of those.
const LEFT: f64 = 0.01;
/// A lead cell down to this is about to be reversed, V (IEEE 450, from memory: a cell at 1 V or less is taken out of a test).
const REVERSING_V: f64 = 1.0;
/// Monoblocs are gone by where their voltages add up to that of the bank within this part (assumed): where one has no meter, nobody
/// knows how many cells the others have.
const ADD_UP: f64 = 0.03;

/// Who is at its end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Spent {
    /// The bank, at the cut-off.
    Bank,
    /// The monobloc with this number, from 1 on.
    Monobloc(u32),
}

/// A voltage that a test watches, in a minute.
pub struct Watched {
    spent: Spent,
    end_v: f64,
    mean_v: f64,
    least_v: f64,
    before_v: Option<f64>,
    earlier_v: Option<f64>,
}

impl Watched {
    fn new(spent: Spent, end_v: f64, voltage_v: Spread, before: &Progress) -> Watched {
        let (before_v, place) = match spent {
            Spent::Bank => (before.voltage_v, 0),
            Spent::Monobloc(number) => {
                let place = number as usize;
                (before.monobloc_v.get(place - 1).copied().flatten(), place)
            }
        };
        let earlier_v = before.earlier_v.get(place).copied().flatten();
        Watched { spent, end_v, mean_v: voltage_v.mean, least_v: voltage_v.min.value, before_v, earlier_v }
    }
}

/// The voltages of a minute, each with the end of discharge and what it was in the minutes before.
pub fn watched(bank: &Bank, cut_off_v: f64, before: &Progress, minute: &Minute) -> Vec<Watched> {
    let Some(voltage_v) = minute.voltage_v else { return Vec::new() };
    let mut all = vec![Watched::new(Spent::Bank, cut_off_v, voltage_v, before)];
    let sum_v: f64 = minute.monobloc_v.iter().flatten().map(|v| v.mean).sum();
    if (sum_v / voltage_v.mean - 1.0).abs() <= ADD_UP {
        let end_v = monobloc_end_v(bank, cut_off_v, minute.monobloc_v.len());
        let monoblocs = (1..).zip(&minute.monobloc_v);
        all.extend(
            monoblocs.filter_map(|(number, v)| Some(Watched::new(Spent::Monobloc(number), end_v, (*v)?, before))),
        );
    }
    all
}

/// Where a monobloc of a string is at its end, V: one cell of it at its own end, the others at the cut-off of the bank.
fn monobloc_end_v(bank: &Bank, cut_off_v: f64, monoblocs: usize) -> f64 {
    let cells = f64::from(bank.cells_in_series);
    let cut_off_v = cut_off_v / cells;
    let weakest_v = match bank.chemistry.family() {
        Family::Lead => REVERSING_V,
        Family::Lithium => bank.preset().voltage.cut_off_v,
    };
    (cells / monoblocs as f64 - 1.0) * cut_off_v + weakest_v.min(cut_off_v)
}

/// Who came to its end under the load by the middle of this minute, first of all, and on which part of the way from the middle of the
/// minute before to that of this one.
pub fn reached(watched: &[Watched]) -> Option<(Spent, f64)> {
    let ended = watched.iter().filter(|one| one.mean_v <= one.end_v);
    let parts = ended.map(|one| {
        let above_v = one.before_v.filter(|&before_v| before_v > one.mean_v);
        (one.spent, above_v.map_or(1.0, |above_v| ((above_v - one.end_v) / (above_v - one.mean_v)).clamp(0.0, 1.0)))
    });
    parts.min_by(|a, b| a.1.total_cmp(&b.1))
}

/// Who was at its end in a minute in which the load went off, after so many minutes, as far as its lowest reading and the fall of it
/// tell.
pub fn touched(watched: &[Watched], minutes: u32) -> Option<Spent> {
    let left_min = LEFT * f64::from(minutes);
    let near = |one: &Watched| {
        let last_v = one.before_v.map_or(0.0, |before_v| before_v - one.least_v);
        let steady_v = one.earlier_v.zip(one.before_v).map_or(0.0, |(earlier_v, before_v)| earlier_v - before_v);
        one.least_v - last_v.max(left_min * steady_v).max(0.0) <= one.end_v * (1.0 + METERS_AGREE)
    };
    watched.iter().find(|one| near(one)).map(|one| one.spent)
}
