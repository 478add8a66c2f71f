//! The counter on ten days of a real battery.
//!
//! V. Sulzer, S. J. Chapman, C. P. Please, D. A. Howey, C. W. Monroe, "Faster Lead-Acid Battery Simulations from
//! Porous-Electrode Theory", J. Electrochem. Soc. 166(12), 2019 (data BSD-3-Clause): a 12 V, 17 Ah VRLA unit, seven whole
//! constant-current discharges at C/5.6 to C/32, each but the last followed by a recharge to about 14.5 V.

use taffrail::battery::{Bank, Chemistry, SensorError};
use taffrail::reckoning::{FixKind, Method, Reckoner, Start};

use crate::support::{TruthRow, read_truth, shared_data};

/// What the counter said around one whole discharge.
struct Run {
    soc_half_way: f64,
    soc_at_end: f64,
    low_at_end: f64,
    full_fixes_after: usize,
}

fn follow(bank: &Bank, rows: &[TruthRow]) -> Vec<Run> {
    let mut reckoner = Reckoner::begin(Method::Counter, bank.clone(), Start::Full);
    let mut runs: Vec<Run> = Vec::new();
    let mut soc_half_way = f64::NAN;
    for (row, next) in rows.iter().zip(rows.iter().skip(1).map(Some).chain([None])) {
        let fix = reckoner.step(&row.reading);
        if let (Some(fix), Some(run)) = (fix, runs.last_mut()) {
            assert_eq!(fix.kind, FixKind::Full);
            run.full_fixes_after += 1;
        }
        if row.soc > Some(0.5) {
            soc_half_way = reckoner.report().soc;
        }
        let ends_here = row.soc.is_some() && next.is_none_or(|n| n.soc.is_none() || n.soc > row.soc);
        if ends_here && row.soc < Some(0.02) {
            let state = reckoner.report();
            runs.push(Run { soc_half_way, soc_at_end: state.soc, low_at_end: state.soc_band.low, full_fixes_after: 0 });
        }
    }
    runs
}

fn bank(rated_ah: f64) -> Bank {
    let mut bank = Bank::new("unit", Chemistry::Agm, 6, rated_ah, 20.0).expect("possible");
    bank.sensor = SensorError { gain: 0.005, offset_a: 0.01 };
    bank
}

#[test]
fn ten_real_days_end_each_discharge_near_empty_and_each_recharge_with_a_full_fix() {
    let Some(folder) = shared_data("lead_acid_vrla_17ah") else {
        return;
    };
    let path = folder.join("cc_discharge_series_10days.csv.gz");
    let rows = read_truth(&path, ["t_s", "voltage_V", "current_A", "temp_C", "soc_true"]);
    // Once as the data sheet rates it, once as the first discharges measured it.
    for (rated_ah, half_way_low) in [(17.0, 0.30), (19.0, 0.38)] {
        let runs = follow(&bank(rated_ah), &rows);
        let percent = |of: fn(&Run) -> f64| runs.iter().map(|r| format!("{:.0}", 100.0 * of(r))).collect::<Vec<_>>();
        println!("{rated_ah} Ah: % half-way through each discharge {}", percent(|r| r.soc_half_way).join(" "));
        println!("{rated_ah} Ah: % at the end of each discharge {}", percent(|r| r.soc_at_end).join(" "));
        assert_eq!(runs.len(), 7);
        for run in &runs {
            assert!(run.soc_at_end <= 0.02, "{rated_ah} Ah: {}", run.soc_at_end);
            // Peukert's correction counts early: half of what comes out reads as less than half, but not as nothing.
            assert!((half_way_low..0.55).contains(&run.soc_half_way), "{rated_ah} Ah: {}", run.soc_half_way);
            assert!(run.low_at_end <= 0.02, "the band must reach down to empty: {}", run.low_at_end);
        }
        let recharged = &runs[..6];
        assert!(recharged.iter().all(|run| run.full_fixes_after >= 1), "a full fix after each whole recharge");
    }
}
