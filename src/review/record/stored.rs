//! What was found of a bank, kind by kind, the earliest first.

use crate::health::{BalanceDay, CapacityFinding, Cycle, Finding, FullLoop, ResistanceDay, UseDay};
use crate::quantity::UtcMs;
use crate::store::{Reader, Result};

/// Something that was found, with the time of its first and its last moment.
pub(super) struct Dated<T> {
    pub(super) from: Option<UtcMs>,
    pub(super) to: UtcMs,
    pub(super) it: T,
}

/// The things without their times.
pub(super) fn items<T: Clone>(dated: &[Dated<T>]) -> Vec<T> {
    dated.iter().map(|dated| dated.it.clone()).collect()
}

/// Everything that was found of a bank and can be placed in time.
pub(super) struct Stored {
    pub(super) capacity: Vec<Dated<CapacityFinding>>,
    pub(super) resistance: Vec<Dated<ResistanceDay>>,
    pub(super) balance: Vec<Dated<BalanceDay>>,
    pub(super) loops: Vec<Dated<FullLoop>>,
    pub(super) days: Vec<Dated<UseDay>>,
    pub(super) cycles: Vec<Dated<Cycle>>,
}

/// Reads one kind; what the store has under another kind's name is left out.
fn of_kind<T>(reader: &Reader, bank: &str, kind: &str, pick: impl Fn(Finding) -> Option<T>) -> Result<Vec<Dated<T>>> {
    let stored = reader.findings(bank, kind, UtcMs(i64::MIN), UtcMs(i64::MAX))?;
    let mut dated: Vec<Dated<T>> = stored
        .into_iter()
        .filter_map(|stored| Some(Dated { from: stored.from_utc, to: stored.to_utc?, it: pick(stored.finding)? }))
        .collect();
    // As the bank lived them they mostly are in order; a trace that was brought in later is not.
    dated.sort_by_key(|dated| dated.to);
    Ok(dated)
}

macro_rules! kind {
    ($reader:expr, $bank:expr, $word:literal, $variant:ident) => {
        of_kind($reader, $bank, $word, |finding| match finding {
            Finding::$variant(it) => Some(it),
            _ => None,
        })
    };
}

impl Stored {
    /// As the store has it.
    pub(super) fn read(reader: &Reader, bank: &str) -> Result<Stored> {
        Ok(Stored {
            capacity: kind!(reader, bank, "capacity", Capacity)?,
            resistance: kind!(reader, bank, "resistance", Resistance)?,
            balance: kind!(reader, bank, "balance", Balance)?,
            loops: kind!(reader, bank, "loop", Loop)?,
            days: kind!(reader, bank, "use", Use)?,
            cycles: kind!(reader, bank, "cycle", Cycle)?,
        })
    }
}
