//! Reads the open data that lie beside the repository (none of it is committed), and the fixtures (all of them are).

pub mod fixture;
pub mod minutes;
pub mod noise;
pub mod trial;

use std::io::Read;
use std::path::PathBuf;

use taffrail::quantity::Reading;

/// The folder of open data; `None` (said on standard error) where it is absent.
pub fn shared_data(folder: &str) -> Option<PathBuf> {
    let root = std::env::var_os("TAFFRAIL_SHARED")
        .map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../shared"), PathBuf::from);
    let path = root.join("data").join(folder);
    if !path.is_dir() {
        eprintln!("skipped: no shared data ({folder})");
        return None;
    }
    Some(path)
}

/// Rows of a gzipped CSV, as numbers by the named columns; an empty field is `None`, lines of `#` are skipped.
pub fn read_columns<const N: usize>(path: &PathBuf, names: [&str; N]) -> Vec<[Option<f64>; N]> {
    let mut text = String::new();
    let file = std::fs::File::open(path).unwrap_or_else(|e| panic!("{}: {e}", path.display()));
    flate2::read::GzDecoder::new(file).read_to_string(&mut text).expect("gzipped text");
    columns_of(&text, names)
}

/// Rows of a CSV text, as numbers by the named columns; an empty field is `None`, lines of `#` are skipped.
pub fn columns_of<const N: usize>(text: &str, names: [&str; N]) -> Vec<[Option<f64>; N]> {
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    let header = reader.headers().expect("a header").clone();
    let columns = names.map(|name| header.iter().position(|h| h == name).unwrap_or_else(|| panic!("no {name}")));
    reader
        .records()
        .map(|row| {
            let row = row.expect("a row");
            columns.map(|c| row.get(c).filter(|t| !t.is_empty()).map(|t| t.parse().expect("a number")))
        })
        .collect()
}

/// A perfect reading with the true state of charge beside it, where it is known.
#[derive(Debug, Clone, Copy)]
pub struct TruthRow {
    pub reading: Reading,
    pub soc: Option<f64>,
}

/// A trace with columns of the given names: time, voltage, current, temperature, true state of charge.
pub fn read_truth(path: &PathBuf, names: [&str; 5]) -> Vec<TruthRow> {
    truth_rows(read_columns(path, names))
}

/// The rows of a trace, from its columns in the order of [`read_truth`].
pub fn truth_rows(rows: Vec<[Option<f64>; 5]>) -> Vec<TruthRow> {
    rows.into_iter()
        .map(|[t_s, voltage_v, current_a, temperature_c, soc]| TruthRow {
            reading: Reading {
                t_s: t_s.expect("a time"),
                voltage_v: voltage_v.expect("a voltage"),
                current_a: current_a.expect("a current"),
                temperature_c,
            },
            soc,
        })
        .collect()
}
