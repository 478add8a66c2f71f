//! One column of whole numbers, or of raw floating-point numbers.
//!
//! A line (first value and step; regular time stamps and constants cost a few bytes); plain differences and packed bits
//! (few values: the open tail and summaries, which are read far more often than they are large); `pco` with the order
//! of differences chosen here (its own choice on an hour of samples is a third larger), and `pco` on raw floats.

use pco::wrapped::{FileCompressor, FileDecompressor};
use pco::{ChunkConfig, DecompressorScratch, DeltaSpec, ModeSpec};

use super::bytes::{Bytes, bits_signed, put, put_signed};
use super::{CodecError, packed};

const LINE: u8 = 0;
const PLAIN: u8 = 1;
const PCO: u8 = 2;
/// Since version 2.
const PACKED: u8 = 3;

/// Below this many values the set-up of `pco` costs more bytes than it saves (measured on minutes of an hour).
const PCO_FROM: usize = 40;

/// Below this many values the set-up of `pco` takes longer than all else, so that it has to save a quarter of the bytes.
const FEW: usize = 256;

/// Highest order of differences tried: 2 suits time stamps that drift, more only amplifies noise.
const MAX_ORDER: usize = 2;

pub(super) fn put_whole(out: &mut Vec<u8>, values: &[i64]) {
    let first = values.first().copied().unwrap_or(0);
    let step = values.get(1).map_or(0, |second| second.wrapping_sub(first));
    if values.windows(2).all(|w| w[1].wrapping_sub(w[0]) == step) {
        out.push(LINE);
        put_signed(out, first);
        put_signed(out, step);
    } else if values.len() < FEW {
        put_few(out, values);
    } else {
        out.push(PCO);
        put_pco(out, values, ModeSpec::Classic, DeltaSpec::TryConsecutive(best_order(values)));
    }
}

fn put_few(out: &mut Vec<u8>, values: &[i64]) {
    let mut plain = Vec::new();
    let mut before = 0;
    for &value in values {
        put_signed(&mut plain, value.wrapping_sub(before));
        before = value;
    }
    let (kind, quick) = match packed::pack(values) {
        Some(packed) if packed.len() <= plain.len() => (PACKED, packed),
        _ => (PLAIN, plain),
    };
    if values.len() >= PCO_FROM {
        let mut small = Vec::new();
        put_pco(&mut small, values, ModeSpec::Classic, DeltaSpec::TryConsecutive(best_order(values)));
        if small.len() * 4 < quick.len() * 3 {
            out.push(PCO);
            out.append(&mut small);
            return;
        }
    }
    out.push(kind);
    out.extend(quick);
}

/// Unpacks a column in place of what `values` held.
pub(super) fn take_whole(
    bytes: &mut Bytes<'_>,
    count: usize,
    values: &mut Vec<i64>,
    scratch: &mut DecompressorScratch,
) -> Result<(), CodecError> {
    match bytes.byte()? {
        LINE => {
            let (first, step) = (bytes.signed()?, bytes.signed()?);
            values.clear();
            values.extend((0..count as i64).map(|place| first.wrapping_add(step.wrapping_mul(place))));
            Ok(())
        }
        PLAIN => {
            values.clear();
            let mut before = 0_i64;
            for _ in 0..count {
                before = before.wrapping_add(bytes.signed()?);
                values.push(before);
            }
            Ok(())
        }
        PCO => take_pco(bytes, count, values, scratch),
        PACKED => packed::take(bytes, count, values),
        _ => Err(CodecError::Nonsense("an unknown kind of column")),
    }
}

pub(super) fn put_floats(out: &mut Vec<u8>, values: &[f64]) {
    if values.len() < FEW {
        out.push(PLAIN);
        out.extend(values.iter().flat_map(|value| value.to_le_bytes()));
    } else {
        out.push(PCO);
        put_pco(out, values, ModeSpec::Auto, DeltaSpec::Auto);
    }
}

/// Unpacks a column in place of what `values` held.
pub(super) fn take_floats(
    bytes: &mut Bytes<'_>,
    count: usize,
    values: &mut Vec<f64>,
    scratch: &mut DecompressorScratch,
) -> Result<(), CodecError> {
    match bytes.byte()? {
        PLAIN => {
            let length = count.checked_mul(8).ok_or(CodecError::Short)?;
            let (eights, _) = bytes.take(length)?.as_chunks::<8>();
            values.clear();
            values.extend(eights.iter().map(|eight| f64::from_le_bytes(*eight)));
            Ok(())
        }
        PCO => take_pco(bytes, count, values, scratch),
        _ => Err(CodecError::Nonsense("an unknown kind of column")),
    }
}

/// The order of differences whose numbers are the smallest, by the bits that each would need.
fn best_order(values: &[i64]) -> usize {
    let sum: i128 = values.iter().map(|&value| i128::from(value)).sum();
    let count = i128::try_from(values.len().max(1)).expect("a length fits in 128 bits");
    let mean = i64::try_from(sum / count).expect("a mean of 64-bit numbers fits in 64 bits");
    let mut numbers: Vec<i64> = values.iter().map(|v| v.wrapping_sub(mean)).collect();
    let mut best = (bits(&numbers), 0);
    for order in 1..=MAX_ORDER {
        numbers = numbers.windows(2).map(|w| w[1].wrapping_sub(w[0])).collect();
        best = best.min((bits(&numbers), order));
    }
    best.1
}

fn bits(values: &[i64]) -> u64 {
    values.iter().map(|&value| u64::from(bits_signed(value))).sum()
}

fn put_pco<T: pco::data_types::Number>(out: &mut Vec<u8>, values: &[T], mode: ModeSpec, delta: DeltaSpec) {
    let config = ChunkConfig::default().with_mode_spec(mode).with_delta_spec(delta);
    let mut packed = Vec::new();
    let file = FileCompressor::default();
    file.chunk_compressor(values, &config)
        .and_then(|mut chunk| {
            file.write_header(&mut packed)?;
            chunk.write_meta(&mut packed)?;
            chunk.write_page(0, &mut packed).map(|_| ())
        })
        .expect("between 1 and a million numbers with a valid configuration, written to memory");
    put(out, packed.len() as u64);
    out.extend(packed);
}

fn take_pco<T: pco::data_types::Number + Default>(
    bytes: &mut Bytes<'_>,
    count: usize,
    values: &mut Vec<T>,
    scratch: &mut DecompressorScratch,
) -> Result<(), CodecError> {
    let packed = bytes.section()?.0;
    values.resize(count, T::default());
    let unpack = || {
        let (file, rest) = FileDecompressor::new(packed)?;
        let (chunk, rest) = file.chunk_decompressor::<T, _>(rest)?;
        chunk.page_decompressor_with_scratch(rest, count, scratch)?.read(values)
    };
    let progress = { unpack }().map_err(|error| CodecError::Pco(error.to_string()))?;
    if progress.n_processed == count { Ok(()) } else { Err(CodecError::Short) }
}
