//! Blocks of hours and days, against the rows that they repeat.

use rusqlite::params;

use super::{Proof, Stretch};
use crate::quantity::BootNo;
use crate::store::codec::{self, Columns};
use crate::store::record::SeriesId;
use crate::store::summary::block_ms;
use crate::store::writer::blocks::block_of_rows;

/// What to do about a block that is not right.
const REDUNDANT: &str =
    "charts of months and years are wrong where it is read; the hours and days themselves are proved apart";

impl Proof<'_> {
    /// Every block holds just what its rows say. That there is none for some rows is no fault: then these are read.
    pub(super) fn check_blocks(&mut self) -> rusqlite::Result<()> {
        if !self.connection.table_exists(None::<&str>, "summary_block")? {
            return Ok(());
        }
        let mut select =
            self.connection.prepare("SELECT series, boot, span_ms, start_mono_ms, data FROM summary_block")?;
        let mut rows = select.query(params![])?;
        while let Some(row) = rows.next()? {
            let place = (SeriesId(row.get(0)?), BootNo(row.get(1)?));
            let (span_ms, first_ms): (i64, i64) = (row.get(2)?, row.get(3)?);
            let cause = match codec::decode(row.get_ref(4)?.as_blob()?, |_| true) {
                Err(cause) => cause.to_string(),
                Ok(stored) => {
                    let made = block_of_rows(self.connection, place, span_ms, first_ms)?;
                    let made = made.and_then(|data| codec::decode(&data, |_| true).ok());
                    if made.is_some_and(|made| is_same(&stored, &made)) {
                        continue;
                    }
                    "it does not say what its rows say".to_owned()
                }
            };
            let stretch = Stretch { place, first_ms, last_ms: first_ms + block_ms(span_ms) - 1 };
            self.find_at("summary_block", stretch, cause, REDUNDANT);
        }
        Ok(())
    }
}

/// Bit for bit, so that nothing is the same as nothing.
fn is_same(one: &Columns, other: &Columns) -> bool {
    let bits = |columns: &Columns| -> Vec<Vec<u64>> {
        columns.channels.iter().map(|values| values.iter().map(|value| value.to_bits()).collect()).collect()
    };
    one.time_ms == other.time_ms && bits(one) == bits(other)
}
