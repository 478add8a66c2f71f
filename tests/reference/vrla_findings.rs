//! Capacity found in ten days of a real battery, against the ampere-hours that were published with it.
//!
//! V. Sulzer, S. J. Chapman, C. P. Please, D. A. Howey, C. W. Monroe, J. Electrochem. Soc. 166(12), 2019 (data BSD-3-Clause): a
//! 12 V, 17 Ah VRLA unit, seven whole constant-current discharges to about 10.5 V; `discharges.csv` beside the record has the charge
//! of each.

use taffrail::battery::{Bank, Chemistry, SensorError};
use taffrail::health::{Aboard, CapacityFinding, Finding, Findings, FixMark, Out, Watched};
use taffrail::quantity::{Band, BandedSoc, Moment, Reading};
use taffrail::reckoning::{FixKind, Method, Reckoner, Start};

use crate::support::minutes::{minutes, moment};
use crate::support::{TruthRow, columns_of, read_truth, shared_data};

fn bank(rated_ah: f64) -> Bank {
    let mut bank = Bank::new("unit", Chemistry::Agm, 6, rated_ah, 20.0).expect("possible");
    bank.sensor = SensorError { gain: 0.005, offset_a: 0.01 };
    bank
}

fn mark(at: Moment, kind: FixKind, soc: f64) -> FixMark {
    FixMark { at, kind, before: None, after: BandedSoc { soc, band: Band { low: soc - 0.02, high: soc } } }
}

/// Full at the start, as the data say; then full by the rule; the cut-off where the data say that a discharge was whole
/// (the last reading lies up to 0.3 V above 10.5 V, on a knee that falls by as much in a minute).
fn fixes(bank: &Bank, rows: &[TruthRow]) -> Vec<FixMark> {
    let mut reckoner = Reckoner::begin(Method::Counter, bank.clone(), Start::Full);
    let mut fixes = vec![mark(moment(rows[1].reading.t_s), FixKind::Hand, 1.0)];
    for (row, next) in rows.iter().zip(rows.iter().skip(1).map(Some).chain([None])) {
        let at = moment(row.reading.t_s);
        if reckoner.step(&row.reading).is_some_and(|fix| fix.kind == FixKind::Full) {
            fixes.push(mark(at, FixKind::Full, 1.0));
        }
        let ends_here = next.is_none_or(|n| n.soc.is_none() || n.soc > row.soc);
        if ends_here && row.soc.is_some_and(|soc| soc < 0.02) {
            fixes.push(mark(at, FixKind::Empty, 0.0));
        }
    }
    fixes
}

fn found(bank: &Bank, rows: &[TruthRow]) -> Vec<CapacityFinding> {
    let aboard = Aboard { bank, branches: &[] };
    let readings: Vec<Reading> = rows.iter().map(|row| row.reading).collect();
    let mut fixes = fixes(bank, rows).into_iter().peekable();
    let (mut watch, mut out) = (Findings::new(&aboard), Out::default());
    for minute in minutes(&readings) {
        watch.minute(&aboard, &minute, &mut out);
        while let Some(fix) = fixes.next_if(|fix| fix.at < minute.end()) {
            watch.fix(&aboard, &fix, &mut out);
        }
        // Saved and taken up again once an hour, as between two looks at a store.
        if minute.at.mono.0 % 3_600_000 == 0 {
            let saved = serde_json::to_string(&watch).expect("JSON");
            watch = serde_json::from_str(&saved).expect("what was saved");
        }
    }
    let capacity = |finding| match finding {
        Finding::Capacity(finding) => Some(finding),
        _ => None,
    };
    out.findings.into_iter().filter_map(capacity).collect()
}

#[test]
fn seven_real_discharges_give_seven_findings_within_two_percent_of_the_published_charge() {
    let Some(folder) = shared_data("lead_acid_vrla_17ah") else {
        return;
    };
    let rows = read_truth(
        &folder.join("cc_discharge_series_10days.csv.gz"),
        ["t_s", "voltage_V", "current_A", "temp_C", "soc_true"],
    );
    let table = std::fs::read_to_string(folder.join("discharges.csv")).expect("discharges.csv");
    let table = table.replace("True", "1").replace("False", "0");
    let published: Vec<[f64; 3]> = columns_of(&table, ["cap_Ah", "I_mean", "complete_to_10p5V"])
        .into_iter()
        .map(|row| row.map(|value| value.expect("a number")))
        .filter(|row| row[2] > 0.5)
        .collect();
    assert_eq!(published.len(), 7);
    for rated_ah in [17.0, 19.0] {
        let found = found(&bank(rated_ah), &rows);
        let whole: Vec<&CapacityFinding> =
            found.iter().filter(|finding| finding.watched == Watched::FullToEmpty).collect();
        for finding in &found {
            println!(
                "{rated_ah} Ah: {} raw {:.2} ± {:.2} Ah at {:.2} A, {:.1} °C; rated {:.2} ± {:.2}; all {:.2} ± {:.2}{}",
                finding.watched.word(),
                finding.raw_ah.value,
                finding.raw_ah.std_dev,
                finding.load_a,
                finding.temperature_c.unwrap_or(f64::NAN),
                finding.rated_ah.value,
                finding.rated_ah.std_dev,
                finding.combined_ah.expect("combined").value,
                finding.combined_ah.expect("combined").std_dev,
                if finding.believed { "" } else { " (not believed)" },
            );
        }
        assert_eq!(whole.len(), 7, "{rated_ah} Ah");
        for (finding, [cap_ah, load_a, _]) in whole.iter().zip(&published) {
            assert!((finding.raw_ah.value / cap_ah - 1.0).abs() < 0.02, "{} against {cap_ah} Ah", finding.raw_ah.value);
            assert!((finding.load_a / load_a - 1.0).abs() < 0.02, "{} against {load_a} A", finding.load_a);
            assert!(finding.law.contains("Peukert") && finding.law.contains("25 °C"), "{}", finding.law);
        }
    }
}
