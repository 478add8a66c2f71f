//! Wear by rules of thumb, beside the fade that was measured.

use super::fade::{Judged, YEAR_DAYS, forecast_of};
use super::stored::Stored;
use super::use_views::{StressView, YearsView};
use crate::battery::{Bank, Family};
use crate::health::stress::{Believed, CycleLaw, Endured, Rules, partial_charge, stress_life};
use crate::review::looked::Looked;

/// What use and heat took, what they leave, and which figure to believe.
pub(super) fn stress_view(
    bank: &Bank,
    stored: &Stored,
    judged: &Judged,
    looked: &Looked,
    since_full: Option<f64>,
) -> StressView {
    let rules = Rules::of(bank.chemistry);
    let swings: Vec<(f64, f64)> = stored.cycles.iter().map(|cycle| (cycle.it.range, cycle.it.count)).collect();
    let read = stored.days.iter().filter_map(|day| Some((day.it.temperature_c?, day.it.covered_s)));
    let temperatures: Vec<(f64, f64)> = read.collect();
    let years =
        looked.reach.map_or(0.0, |(first, last)| looked.to.unwrap_or(last).seconds_since(first) / 86_400.0 / YEAR_DAYS);
    let endured = Endured {
        years,
        swings: &swings,
        charge_out_ah: stored.days.iter().map(|day| day.it.charge_out_ah).sum(),
        // The rules used here go by depth, not by rate.
        load_a: 0.0,
        rated_ah: bank.rated_capacity_ah,
        temperatures: &temperatures,
        used_before: 0.0,
    };
    let life = stress_life(&endured, &rules).filter(|_| !stored.days.is_empty());
    let measured = judged.fade.crossing.as_ref().ok().map(|crossing| {
        let range = forecast_of(*crossing).range_90;
        let now = looked.to.map_or(judged.last, |to| judged.days(to));
        let left = |x: f64| ((x - now) / YEAR_DAYS).max(0.0);
        YearsView { low: left(range.low), high: left(range.high) }
    });
    let believed = Believed::of(&judged.fade.crossing, life.as_ref());
    StressView {
        used: life.map(|life| f64::midpoint(life.used.low, life.used.high)),
        remaining_years: life.map(|life| YearsView { low: life.years_left.low, high: life.years_left.high }),
        measured_remaining_years: measured,
        believe: match believed {
            Believed::Measured => "measured",
            Believed::RuleOfThumb => "stress",
            Believed::Neither => "neither",
        },
        text: believed.words().to_owned(),
        rules: rule_words(bank, &rules, stored, since_full),
    }
}

fn rule_words(bank: &Bank, rules: &Rules, stored: &Stored, since_full: Option<f64>) -> Vec<String> {
    let calendar = &rules.calendar;
    let mut words = vec![format!(
        "By the calendar: {:.0} years to 80 % at 25 °C ({}); {}.",
        calendar.years_at_25_c,
        calendar.source,
        calendar.rule.words(),
    )];
    if let CycleLaw::Depth(curve) = &rules.cycles {
        words.push(format!(
            "By cycles: {:.0} to 80 % at 80 % depth, {:.0} at half ({}), added up by the linear rule of Palmgren and Miner.",
            curve.cycles_at(0.8),
            curve.cycles_at(0.5),
            curve.source(),
        ));
    }
    if bank.chemistry.family() == Family::Lead {
        let tenths_s = std::array::from_fn(|tenth| stored.days.iter().map(|day| day.it.soc_tenths_s[tenth]).sum());
        words.extend(partial_charge(&tenths_s, since_full).map(|partial| {
            format!(
                "Partly charged: on average {:.0} % of the charge was missing, and for {:.0} % of the time more than half. \
                 Incomplete recharge is the predominant cause of early loss of capacity in lead (Hund, Sandia National \
                 Laboratories); it is in no figure here.",
                100.0 * partial.missing,
                100.0 * partial.below_half,
            )
        }));
    }
    words
}
