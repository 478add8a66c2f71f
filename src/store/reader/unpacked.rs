//! The wanted channels of one chunk after the other, unpacked into the same buffers.

use super::scan::{Selection, Wanted};
use crate::store::block::{MINUTE_COLUMNS, POWER, slot};
use crate::store::codec::{CodecError, Columns, Unpacker};
use crate::store::summary::fill_power;

/// Buffers for chunks and for blocks of summaries.
#[derive(Debug, Default)]
pub(super) struct Unpacked {
    unpacker: Unpacker,
    columns: Columns,
    power: Vec<f64>,
}

impl Unpacked {
    /// Unpacks samples.
    pub(super) fn samples(&mut self, data: &[u8], selection: &Selection) -> Result<(), CodecError> {
        self.unpacker.unpack(data, |position| selection.needs(position), &mut self.columns)?;
        if let Some((voltage, current)) = selection.power_from {
            fill_power(&self.columns, voltage, current, &mut self.power);
        }
        Ok(())
    }

    /// Unpacks summaries.
    pub(super) fn summaries(&mut self, data: &[u8], selection: &Selection) -> Result<(), CodecError> {
        let wanted = |column| selection.wanted.iter().any(|w| slot(w.channel) == column / MINUTE_COLUMNS);
        self.unpacker.unpack(data, wanted, &mut self.columns)
    }

    /// Times of the samples, or starts of the summaries, ms.
    pub(super) fn time_ms(&self) -> &[i64] {
        &self.columns.time_ms
    }

    /// Samples of a channel; empty if the chunk does not know it.
    pub(super) fn channel(&self, wanted: &Wanted, selection: &Selection) -> &[f64] {
        if wanted.channel == POWER && selection.power_from.is_some() {
            return &self.power;
        }
        let position = usize::try_from(wanted.channel).ok();
        position.and_then(|position| self.columns.channels.get(position)).map_or(&[], Vec::as_slice)
    }

    /// Count, minimum, maximum and mean of a channel; `None` if the block does not know it.
    pub(super) fn summary(&self, wanted: &Wanted) -> Option<[&[f64]; MINUTE_COLUMNS]> {
        let first = slot(wanted.channel) * MINUTE_COLUMNS;
        let columns = self.columns.channels.get(first..first + MINUTE_COLUMNS)?;
        Some(std::array::from_fn(|column| columns[column].as_slice()))
    }
}
