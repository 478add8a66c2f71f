//! The series of a bank.

use crate::store::{Reader, Result, SeriesInfo, SeriesKind};

/// Name of the series that holds a bank's reconciled line.
#[must_use]
pub fn reconciled_name(bank: &str) -> String {
    format!("{bank}-reconciled")
}

/// The series of a bank that record this kind of thing.
///
/// # Errors
/// What the store reports.
pub fn series_of(reader: &Reader, bank: &str, kind: SeriesKind) -> Result<Vec<SeriesInfo>> {
    Ok(reader.all_series()?.into_iter().filter(|s| s.bank == bank && s.kind == kind.as_str()).collect())
}
