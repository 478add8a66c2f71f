//! The series of a bank.

use crate::store::{Reader, Result, SeriesInfo, SeriesKind};

/// Name of the series that holds a bank's reconciled line.
fn reconciled_name(bank: &str) -> String {
    format!("{bank}-reconciled")
}

/// The series of a bank's charge: as reconciled after the next fix, and as reckoned at the time; each where there is one.
///
/// # Errors
/// What the store reports.
pub fn charge_lines(reader: &Reader, bank: &str) -> Result<[Option<SeriesInfo>; 2]> {
    let (reconciled, live): (Vec<_>, Vec<_>) = series_of(reader, bank, SeriesKind::Reckoning)?
        .into_iter()
        .partition(|series| series.name == reconciled_name(bank));
    Ok([reconciled, live].map(|lines| lines.into_iter().next()))
}

/// The series of a bank that record this kind of thing.
///
/// # Errors
/// What the store reports.
pub fn series_of(reader: &Reader, bank: &str, kind: SeriesKind) -> Result<Vec<SeriesInfo>> {
    Ok(reader.all_series()?.into_iter().filter(|s| s.bank == bank && s.kind == kind.as_str()).collect())
}
