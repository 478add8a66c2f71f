//! Resistance from load steps on a real cell, against a plain regression of the same readings.
//!
//! A. Kawakita de Souza, "Lithium-ion Battery OCV and Dynamic Test Data of a LiFePO4 cylindrical cell", Mendeley Data V1
//! (2021), doi 10.17632/p8kf893yv3.1 (CC BY 4.0): an iron phosphate cell of 2.5 Ah under drive cycles, read each second.

use taffrail::battery::{Bank, Chemistry};
use taffrail::health::resistance::Steps;
use taffrail::health::{Aboard, Finding, Out, Reach, ResistanceDay};
use taffrail::quantity::{Band, BandedSoc, BootNo, Minute, Moment, MonoMs, Reading};

use crate::minutes::steady;
use crate::support::{read_columns, shared_data};

const RATED_AH: f64 = 2.5;

struct Row {
    t_s: f64,
    current_a: f64,
    voltage_v: f64,
    soc: f64,
}

/// A minute that says no more than what the watch asks of it.
fn minute(at: Moment, soc: f64, temperature_c: f64) -> Minute {
    let soc = BandedSoc { soc, band: Band { low: soc - 0.03, high: soc + 0.03 } };
    Minute { current_a: None, temperature_c: Some(temperature_c), soc: Some(soc), ..steady(at, 0.0) }
}

#[expect(clippy::cast_possible_truncation, reason = "milliseconds of a day")]
fn moment(t_s: f64) -> Moment {
    Moment { boot: BootNo(1), mono: MonoMs((t_s * 1000.0).round() as i64) }
}

fn watched(rows: &[Row], temperature_c: f64) -> Vec<ResistanceDay> {
    let bank = Bank::new("cell", Chemistry::Lfp, 1, RATED_AH, 5.0).expect("possible");
    let aboard = Aboard { bank: &bank, branches: &[] };
    let (mut watch, mut out) = (Steps::new(&aboard), Out::default());
    let mut ends_s = 60.0;
    for row in rows {
        if row.t_s >= ends_s {
            watch.minute(&aboard, &minute(moment(ends_s - 60.0), row.soc, temperature_c), &mut out);
            ends_s = (row.t_s / 60.0).floor() * 60.0 + 60.0;
        }
        let reading = Reading { t_s: row.t_s, voltage_v: row.voltage_v, current_a: row.current_a, temperature_c: None };
        watch.reading(&aboard, moment(row.t_s), &reading, &[]);
    }
    watch.minute(&aboard, &minute(moment(86_400.0), 1.0, temperature_c), &mut out);
    let of = |finding| if let Finding::Resistance(day) = finding { Some(day) } else { None };
    out.findings.into_iter().filter_map(of).collect()
}

/// dV/dI by least squares over all neighbouring readings between which the load moved, in the upper half of charge.
fn regressed(rows: &[Row]) -> f64 {
    let pairs = rows.windows(2).filter(|pair| {
        let moved = (pair[1].current_a - pair[0].current_a).abs();
        moved > 0.05 * RATED_AH
            && pair[1].t_s - pair[0].t_s < 1.5
            && pair[0].soc >= 0.5
            && pair.iter().all(|r| r.current_a <= 0.025)
    });
    let (mut across, mut square) = (0.0, 0.0);
    for pair in pairs {
        let (i, v) = (pair[1].current_a - pair[0].current_a, pair[1].voltage_v - pair[0].voltage_v);
        across += i * v;
        square += i * i;
    }
    across / square
}

#[test]
fn steps_of_a_real_cell_tell_the_resistance_that_a_regression_finds() {
    let Some(folder) = shared_data("lfp_a123_26650_uccs") else {
        return;
    };
    let mut before = f64::INFINITY;
    for (file, temperature_c) in
        [("dyn_A002_10_N05", -5.0), ("dyn_A002_10_P05", 5.0), ("dyn_A002_10_P15", 15.0), ("dyn_A002_10_P45", 45.0)]
    {
        let path = folder.join(format!("{file}.csv.gz"));
        let mut soc = 1.0;
        let rows: Vec<Row> = read_columns(&path, ["t_s", "current_A", "voltage_V", "soc_true"])
            .into_iter()
            .map(|[t_s, current_a, voltage_v, known]| {
                soc = known.unwrap_or(soc);
                let known = "a column of numbers";
                Row {
                    t_s: t_s.expect(known),
                    current_a: current_a.expect(known),
                    voltage_v: voltage_v.expect(known),
                    soc,
                }
            })
            .collect();
        let days = watched(&rows, temperature_c);
        let expected = regressed(&rows);
        for day in &days {
            println!(
                "{file} {:?}: {} steps, {:.1} ± {:.1} mΩ, at 25 °C {:.1} mΩ; regression {:.1} mΩ",
                day.reach,
                day.steps,
                1e3 * day.ohm.value,
                1e3 * day.ohm.std_dev,
                1e3 * day.normal_ohm.value,
                1e3 * expected
            );
        }
        let second = days.iter().find(|day| day.reach == Reach::Second).expect("steps in a drive cycle");
        let off = (second.ohm.value - expected).abs();
        assert!(
            off < (0.1 * expected).max(3.0 * second.ohm.std_dev),
            "{file}: {} against {expected}",
            second.ohm.value
        );
        assert!(second.ohm.value < before, "a warmer cell resists less");
        before = second.ohm.value;
    }
}
