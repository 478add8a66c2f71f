//! Samples packed into bytes, and back bit for bit.
//!
//! Layout: a version byte; the number of samples; the number of channels; the column of times; then each channel as a
//! section with its length in front (so that a reader skips those that it does not want): its step, which samples have
//! a value, the values; at the end a CRC-32 of all that. A step of k means that every value is a whole number of
//! 10^-k exactly, bit for bit, and is stored as that number; values that are no such decimals keep their raw bits.
//!
//! Decoding checks the CRC first and then trusts nothing: damaged bytes give an error, never a panic, and never more
//! memory than [`MAX_COUNT`] samples take.

pub(super) mod bytes;
mod column;
mod packed;
mod unpack;

use bytes::put;
pub use unpack::Unpacker;

/// Most samples in one chunk: about an hour at 18 samples a second. A block that reaches it is closed early.
pub const MAX_COUNT: usize = 65_536;

/// Most channels of one device.
pub const MAX_CHANNELS: usize = 4096;

/// Version 2 added packed bits as a kind of column.
const VERSION: u8 = 2;
const FIRST_VERSION: u8 = 1;

/// Finest decimal step: 10^-6.
const MAX_DECIMALS: u8 = 6;
/// In place of a step: the raw bits follow.
const RAW: u8 = 255;
/// In place of a step: no sample has a value.
const EMPTY: u8 = 254;

/// 10^k, exact.
const TENS: [f64; 7] = [1.0, 10.0, 100.0, 1e3, 1e4, 1e5, 1e6];

/// Whole numbers up to here are exact in a double: 2^53.
const EXACT: f64 = 9_007_199_254_740_992.0;

/// Bytes that are no chunk, or a chunk no more.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CodecError {
    /// The bytes end before the content does.
    #[error("the bytes end too early")]
    Short,
    /// The CRC does not match.
    #[error("the checksum does not match")]
    Checksum,
    /// Written by a later version.
    #[error("it is of version {0}, and this program knows versions up to {known}", known = VERSION)]
    Version(u8),
    /// Something that the encoder never writes.
    #[error("it holds {0}")]
    Nonsense(&'static str),
    /// The compressed numbers do not unpack.
    #[error("its numbers do not unpack ({0})")]
    Pco(String),
}

/// Samples of one device as columns.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Columns {
    /// Monotonic milliseconds, rising.
    pub time_ms: Vec<i64>,
    /// One column per channel, as long as `time_ms`; NaN where there is no value. A channel that was not asked for is
    /// an empty column.
    pub channels: Vec<Vec<f64>>,
}

/// Packs columns; every channel is as long as the times, at most [`MAX_COUNT`] samples and [`MAX_CHANNELS`] channels.
#[must_use]
pub fn encode(time_ms: &[i64], channels: &[&[f64]]) -> Vec<u8> {
    let mut out = vec![VERSION];
    put(&mut out, time_ms.len() as u64);
    put(&mut out, channels.len() as u64);
    let mut section = Vec::new();
    column::put_whole(&mut section, time_ms);
    put(&mut out, section.len() as u64);
    out.append(&mut section);
    for values in channels {
        put_channel(&mut section, values);
        put(&mut out, section.len() as u64);
        out.append(&mut section);
    }
    let crc = crc32fast::hash(&out);
    out.extend(crc.to_le_bytes());
    out
}

/// Unpacks one chunk: the times, and those channels for which `wanted` says so. For many, [`Unpacker`].
///
/// # Errors
/// [`CodecError`] if the bytes are damaged or of a later version.
pub fn decode(data: &[u8], wanted: impl Fn(usize) -> bool) -> Result<Columns, CodecError> {
    let mut columns = Columns::default();
    Unpacker::default().unpack(data, wanted, &mut columns)?;
    Ok(columns)
}

fn put_channel(out: &mut Vec<u8>, values: &[f64]) {
    let present: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    if present.is_empty() {
        out.push(EMPTY);
        return;
    }
    let decimals = decimals_of(&present);
    out.push(decimals.unwrap_or(RAW));
    if present.len() == values.len() {
        put(out, 0);
    } else {
        put_runs(out, values);
    }
    match decimals {
        Some(decimals) => column::put_whole(out, &whole(&present, decimals)),
        None => column::put_floats(out, &present),
    }
}

/// Lengths of the stretches without and with values, in turn, the first without (it may be 0 long).
fn put_runs(out: &mut Vec<u8>, values: &[f64]) {
    let mut runs = Vec::new();
    let mut absent = true;
    let mut length = 0_u64;
    for value in values {
        if value.is_nan() != absent {
            runs.push(length);
            (absent, length) = (!absent, 0);
        }
        length += 1;
    }
    runs.push(length);
    put(out, runs.len() as u64);
    for run in runs {
        put(out, run);
    }
}

/// The fewest decimals with which every value of a column is a whole number of steps, exactly; `None` if there is no
/// such step. Missing values do not count.
#[must_use]
pub fn decimals(values: &[f64]) -> Option<u8> {
    let present: Vec<f64> = values.iter().copied().filter(|v| !v.is_nan()).collect();
    decimals_of(&present)
}

fn decimals_of(values: &[f64]) -> Option<u8> {
    let mut decimals = 0_u8;
    for &value in values {
        while !is_decimal(value, TENS[usize::from(decimals)]) {
            decimals += 1;
            if decimals > MAX_DECIMALS {
                return None;
            }
        }
    }
    // A finer step found later must still hold the large values seen before.
    let tens = TENS[usize::from(decimals)];
    values.iter().all(|&v| is_decimal(v, tens)).then_some(decimals)
}

fn is_decimal(value: f64, tens: f64) -> bool {
    // Adding zero makes a negative zero positive, which its bits then tell: it is kept raw.
    let number = (value * tens).round() + 0.0;
    number.abs() < EXACT && (number / tens).to_bits() == value.to_bits()
}

#[expect(clippy::cast_possible_truncation, reason = "is_decimal has found every number whole and below 2^53")]
fn whole(values: &[f64], decimals: u8) -> Vec<i64> {
    let tens = TENS[usize::from(decimals)];
    values.iter().map(|value| (value * tens).round() as i64).collect()
}

#[cfg(test)]
mod tests;
