//! The traces with known truth, and the banks that they are of. See the READMEs of the shared data for their sources.

use std::path::Path;

use taffrail::battery::Bank;

use super::{Trace, banks};
use crate::support::fixture::{TRUTH_COLUMNS, reference_fixture_every, reference_names};
use crate::support::{read_columns, read_truth, shared_data, truth_rows};

/// Traces of `physics_truth` whose name begins so ("passage", "harbour", "hard_run", or ""); `None` without shared data.
pub fn physics(beginning: &str) -> Option<Vec<Trace>> {
    let folder = shared_data("physics_truth")?;
    let of_bank = |word: &str| {
        let bank = banks::physics(word);
        names(&folder, beginning)
            .into_iter()
            .filter(|name| name.ends_with(&format!("_{word}")) || name.contains(&format!("hard_run_{word}_")))
            .map(|name| read(&folder, name, &bank))
            .collect::<Vec<_>>()
    };
    Some(banks::PHYSICS.into_iter().flat_map(of_bank).collect())
}

/// Traces of the project's own generator whose name begins so ("endurance", "cruise", or ""), sampled every 10 s.
pub fn own(beginning: &str) -> Vec<Trace> {
    let names = reference_names().into_iter().filter(|name| name.starts_with(beginning));
    names
        .map(|name| {
            let bank = banks::own(if name.contains("lead") { "lead" } else { "lfp" });
            Trace { rows: reference_fixture_every(&name, 10.0), bank, name }
        })
        .collect()
}

/// Dynamic and drive records of LFP 26650 cells from 5 to 45 °C; `None` without shared data.
pub fn cells() -> Option<Vec<Trace>> {
    let folder = shared_data("lfp_a123_26650_uccs")?;
    let dynamic = [("05_P35", 35.0), ("10_P05", 5.0), ("10_P15", 15.0), ("10_P45", 45.0), ("20_P25", 25.0)];
    // Charge from full to empty, Ah: of the first cell as its own dynamic tests at 25 and 35 °C measured it (sanity.csv),
    // of the second as the README finds it.
    let driven = [
        ("A002_UDDS_P25", 2.540),
        ("A002_UDDS_P35", 2.511),
        ("A002_PeriodicPulseData", 2.540),
        ("A004_DYN_P25_FSAE", 2.43),
        ("A004_DYN_P25_HwyCol", 2.43),
        ("A004_DYN_P30_FSAE", 2.43),
        ("A004_DYN_P30_HwyCol", 2.43),
        ("A004_DYN_P30_NYCC", 2.43),
    ];
    let dynamic = dynamic.map(|(name, chamber_c)| dynamic_record(&folder, name, chamber_c));
    let driven = driven.map(|(name, capacity_ah)| drive_record(&folder, name, capacity_ah));
    Some(dynamic.into_iter().chain(driven).collect())
}

/// Ten days of a VRLA unit described with this rating; `None` without shared data. The truth is that of its source: 1 at
/// the start of a discharge, 0 at its end, whatever its rate.
pub fn vrla(rated_ah: f64) -> Option<Trace> {
    let folder = shared_data("lead_acid_vrla_17ah")?;
    let path = folder.join("cc_discharge_series_10days.csv.gz");
    let rows = read_truth(&path, ["t_s", "voltage_V", "current_A", "temp_C", "soc_true"]);
    Some(Trace { name: format!("ten days, as {rated_ah} Ah"), bank: banks::vrla(rated_ah), rows })
}

fn dynamic_record(folder: &Path, name: &str, chamber_c: f64) -> Trace {
    let path = folder.join(format!("dyn_A002_{name}.csv.gz"));
    let rows = read_columns(&path, ["t_s", "voltage_V", "current_A", "soc_true"]);
    let rows =
        rows.into_iter().map(|[t_s, voltage_v, current_a, soc]| [t_s, voltage_v, current_a, Some(chamber_c), soc]);
    Trace { name: format!("dyn_A002_{name}"), bank: banks::cell(), rows: truth_rows(rows.collect()) }
}

fn drive_record(folder: &Path, name: &str, capacity_ah: f64) -> Trace {
    let path = folder.join(format!("drive_{name}.csv.gz"));
    let mut rows = read_truth(&path, ["t_s", "voltage_V", "current_A", "temp_cell_C", "net_Ah"]);
    rows.iter_mut().for_each(|row| row.soc = row.soc.map(|net_ah| 1.0 + net_ah / capacity_ah));
    Trace { name: format!("drive_{name}"), bank: banks::cell(), rows }
}

fn read(folder: &Path, name: String, bank: &Bank) -> Trace {
    let rows = read_truth(&folder.join(format!("{name}.csv.gz")), TRUTH_COLUMNS);
    Trace { name, bank: bank.clone(), rows }
}

/// Names of the traces in a folder of `physics_truth`, sorted, without their ending.
fn names(folder: &Path, beginning: &str) -> Vec<String> {
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .expect("the folder was there a moment ago")
        .filter_map(|entry| Some(entry.ok()?.file_name().into_string().ok()?.strip_suffix(".csv.gz")?.to_owned()))
        .filter(|name| name.starts_with(beginning))
        .collect();
    names.sort();
    names
}
