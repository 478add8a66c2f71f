//! Passages of a real battery, against the published table of its discharges.
//!
//! V. Sulzer, S. J. Chapman, C. P. Please, D. A. Howey, C. W. Monroe, "Faster Lead-Acid Battery Simulations from
//! Porous-Electrode Theory", J. Electrochem. Soc. 166(12), 2019 (data BSD-3-Clause): a 12 V, 17 Ah VRLA unit, discharged eight
//! times, the fourth time with an interruption. Hours and ampere-hours are those of the data set's own table.

use taffrail::battery::{Bank, Chemistry};
use taffrail::health::Aboard;
use taffrail::passage::{Finder, Found, Rules, Summary, SummaryBuilder};
use taffrail::quantity::{BootNo, MINUTE_MS, Minute, Moment, MonoMs, Reading};

use crate::minutes::steady;
use crate::support::{TruthRow, read_truth, shared_data};

/// Discharge number, hours, Ah.
const PUBLISHED: [(usize, f64, f64); 7] = [
    (1, 6.49, 19.74),
    (2, 7.81, 19.84),
    (3, 9.65, 19.68),
    (5, 12.55, 19.28),
    (6, 18.36, 18.97),
    (7, 17.75, 18.29),
    (8, 34.83, 18.46),
];
/// The unit was read every minute under load and every ten minutes at rest.
const GAP_MS: i64 = 660_000;

#[expect(clippy::cast_possible_truncation, reason = "ten days in ms")]
fn moment(t_s: f64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs((t_s * 1000.0).round() as i64) }
}

/// Minutes of the trace: each has the current of the first sample at or after its end, as intervals belong to the later sample.
fn minutes(rows: &[TruthRow]) -> Vec<Minute> {
    let mut made = Vec::new();
    let mut next = 0;
    let last = moment(rows[rows.len() - 1].reading.t_s).mono.0 / MINUTE_MS;
    for number in 0..last {
        let at = Moment { boot: BootNo(1), mono: MonoMs(number * MINUTE_MS) };
        while moment(rows[next].reading.t_s).mono.0 < at.mono.0 + MINUTE_MS {
            next += 1;
        }
        made.push(steady(at, rows[next].reading.current_a));
    }
    made
}

fn summary(aboard: &Aboard<'_>, rows: &[TruthRow], found: &Found, end: Moment) -> Summary {
    let mut built = SummaryBuilder::new(aboard, GAP_MS);
    for TruthRow { reading, .. } in rows {
        let at = moment(reading.t_s);
        if (found.begin..end).contains(&at) {
            built.reading(at, &Reading { ..*reading });
        } else if at < found.begin {
            built.follow_on(at, reading);
        }
    }
    built.finish(Some(end.mono.seconds_since(found.begin.mono)), false)
}

#[test]
fn eight_discharges_of_a_real_battery_are_eight_passages_of_the_published_hours_and_charge() {
    let Some(folder) = shared_data("lead_acid_vrla_17ah") else {
        return;
    };
    let path = folder.join("cc_discharge_series_10days.csv.gz");
    let rows = read_truth(&path, ["t_s", "voltage_V", "current_A", "temp_C", "soc_true"]);
    let bank = Bank::new("unit", Chemistry::Agm, 6, 17.0, 20.0).expect("possible");
    let aboard = Aboard { bank: &bank, branches: &[] };
    let (mut finder, mut found) = (Finder::default(), Vec::new());
    for minute in &minutes(&rows) {
        finder.minute(&aboard, &Rules::of(&bank), minute, &mut found);
    }
    let begun: Vec<&Found> = found.iter().filter(|found| found.end.is_none()).collect();
    let ended: Vec<&Found> = found.iter().filter(|found| found.end.is_some()).collect();
    // The record stops an hour after the last discharge, before that could settle: it still goes on.
    assert_eq!((begun.len(), ended.len()), (8, 7), "{found:?}");
    let last_row = moment(rows[rows.len() - 1].reading.t_s);
    for (number, hours, charge_ah) in PUBLISHED {
        let passage = ended.get(number - 1).or(begun.last()).expect("eight");
        let made = summary(&aboard, &rows, passage, passage.end.unwrap_or(last_row));
        let lasted_h = made.duration_s.expect("one boot") / 3600.0;
        println!("discharge {number}: {lasted_h:.2} h for {hours} h, {:.2} Ah for {charge_ah} Ah", made.charge_out_ah);
        assert!((made.charge_out_ah / charge_ah - 1.0).abs() < 0.01, "discharge {number}: {} Ah", made.charge_out_ah);
        if passage.end.is_none() {
            continue;
        }
        // Ten minutes at rest are one sample: the ends are known no better.
        assert!((lasted_h - hours).abs() < 0.2, "discharge {number}: {lasted_h} h");
        let mean_a = made.mean_load_a.expect("a load");
        assert!((mean_a / (charge_ah / hours) - 1.0).abs() < 0.02, "discharge {number}: {mean_a} A");
    }
}
