//! Unpacking, chunk after chunk, into the same buffers.

use pco::DecompressorScratch;

use super::bytes::Bytes;
use super::column::{take_floats, take_whole};
use super::{CodecError, Columns, EMPTY, FIRST_VERSION, MAX_CHANNELS, MAX_COUNT, MAX_DECIMALS, RAW, TENS, VERSION};

/// Unpacks chunks. What it needs meanwhile it keeps for the next one, so that a walk over years allocates little.
#[derive(Debug, Default)]
pub struct Unpacker {
    scratch: DecompressorScratch,
    numbers: Vec<i64>,
    runs: Vec<usize>,
}

impl Unpacker {
    /// Unpacks the times and those channels for which `wanted` says so, in place of what `columns` held. On an error
    /// they hold anything.
    ///
    /// # Errors
    /// [`CodecError`] if the bytes are damaged or of a later version.
    pub fn unpack(
        &mut self,
        data: &[u8],
        wanted: impl Fn(usize) -> bool,
        columns: &mut Columns,
    ) -> Result<(), CodecError> {
        let (content, crc) = data.split_last_chunk::<4>().ok_or(CodecError::Short)?;
        if crc32fast::hash(content) != u32::from_le_bytes(*crc) {
            return Err(CodecError::Checksum);
        }
        let mut bytes = Bytes(content);
        match bytes.byte()? {
            FIRST_VERSION..=VERSION => {}
            later => return Err(CodecError::Version(later)),
        }
        let count = bounded(bytes.number()?, MAX_COUNT, "too many samples")?;
        let channels = bounded(bytes.number()?, MAX_CHANNELS, "too many channels")?;
        take_whole(&mut bytes.section()?, count, &mut columns.time_ms, &mut self.scratch)?;
        columns.channels.resize_with(channels, Vec::new);
        for (position, values) in columns.channels.iter_mut().enumerate() {
            let section = bytes.section()?;
            values.clear();
            if wanted(position) {
                self.channel(section, count, values)?;
            }
        }
        Ok(())
    }

    fn channel(&mut self, mut bytes: Bytes<'_>, count: usize, values: &mut Vec<f64>) -> Result<(), CodecError> {
        let step = bytes.byte()?;
        if step == EMPTY {
            values.resize(count, f64::NAN);
            return Ok(());
        }
        let everywhere = self.take_runs(&mut bytes, count)?;
        let present = if everywhere { count } else { self.runs.iter().skip(1).step_by(2).sum() };
        match step {
            RAW => take_floats(&mut bytes, present, values, &mut self.scratch)?,
            decimals if decimals <= MAX_DECIMALS => {
                let tens = TENS[usize::from(decimals)];
                take_whole(&mut bytes, present, &mut self.numbers, &mut self.scratch)?;
                values.extend(self.numbers.iter().map(|number| *number as f64 / tens));
            }
            _ => return Err(CodecError::Nonsense("an unknown step")),
        }
        if !everywhere {
            spread(values, &self.runs, count);
        }
        Ok(())
    }

    /// Lengths of the stretches without and with values, in turn; true if there are none because every sample has a
    /// value.
    fn take_runs(&mut self, bytes: &mut Bytes<'_>, count: usize) -> Result<bool, CodecError> {
        let number = bounded(bytes.number()?, MAX_COUNT + 1, "too many stretches")?;
        self.runs.clear();
        let mut left = count;
        for _ in 0..number {
            let run = bounded(bytes.number()?, left, "stretches longer than the chunk")?;
            left -= run;
            self.runs.push(run);
        }
        Ok(number == 0)
    }
}

fn bounded(number: u64, most: usize, what: &'static str) -> Result<usize, CodecError> {
    usize::try_from(number).ok().filter(|number| *number <= most).ok_or(CodecError::Nonsense(what))
}

/// Moves values to where the stretches say, the last ones first, and fills what lies between with NaN.
fn spread(values: &mut Vec<f64>, runs: &[usize], count: usize) {
    let mut from = values.len();
    let mut to: usize = runs.iter().sum();
    values.resize(count, f64::NAN);
    // No value lies behind its place, so nothing is overwritten that is still to be moved.
    for (place, run) in runs.iter().enumerate().rev() {
        to -= run;
        if place % 2 == 1 {
            from -= run;
            values.copy_within(from..from + run, to);
        } else {
            values[to..to + run].fill(f64::NAN);
        }
    }
}
