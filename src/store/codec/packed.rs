//! Few whole numbers, as so many bits each above the smallest of them: their set-up costs next to nothing, so that an
//! hour of minutes unpacks in a microsecond or two.

use super::CodecError;
use super::bytes::{Bytes, put_signed};

/// Widest number, bits: with up to seven bits before it, it still lies in eight bytes.
const MAX_WIDTH: u32 = 56;

/// The numbers themselves, or the first one and the steps between them, whichever takes less; `None` where neither
/// fits.
pub(super) fn pack(values: &[i64]) -> Option<Vec<u8>> {
    let (first, _) = values.split_first()?;
    let whole = bits(vec![0], values);
    let steps: Option<Vec<i64>> = values.windows(2).map(|w| w[1].checked_sub(w[0])).collect();
    let stepped = steps.and_then(|steps| {
        let mut out = vec![1];
        put_signed(&mut out, *first);
        bits(out, &steps)
    });
    [whole, stepped].into_iter().flatten().min_by_key(Vec::len)
}

/// Appends the smallest number, the width, and what each is above the smallest.
fn bits(mut out: Vec<u8>, numbers: &[i64]) -> Option<Vec<u8>> {
    let (least, most) = (numbers.iter().min()?, numbers.iter().max()?);
    let width = u64::BITS - most.checked_sub(*least)?.leading_zeros();
    if width > MAX_WIDTH {
        return None;
    }
    put_signed(&mut out, *least);
    out.push(width.to_le_bytes()[0]);
    let (mut waiting, mut filled) = (0_u64, 0);
    for number in numbers {
        waiting |= number.wrapping_sub(*least).cast_unsigned() << filled;
        filled += width;
        while filled >= 8 {
            out.push(waiting.to_le_bytes()[0]);
            waiting >>= 8;
            filled -= 8;
        }
    }
    if filled > 0 {
        out.push(waiting.to_le_bytes()[0]);
    }
    Some(out)
}

/// Unpacks in place of what `values` held.
pub(super) fn take(bytes: &mut Bytes<'_>, count: usize, values: &mut Vec<i64>) -> Result<(), CodecError> {
    values.clear();
    let first = match bytes.byte()? {
        0 => None,
        1 => Some(bytes.signed()?),
        _ => return Err(CodecError::Nonsense("an unknown order of steps")),
    };
    let least = bytes.signed()?;
    let width = usize::from(bytes.byte()?);
    if width > MAX_WIDTH as usize {
        return Err(CodecError::Nonsense("numbers that are too wide"));
    }
    let numbers = count - usize::from(first.is_some()).min(count);
    let packed = bytes.take((numbers * width).div_ceil(8))?;
    let mask = (1_u64 << width) - 1;
    let number = |place: usize| {
        let bit = place * width;
        least.wrapping_add(((eight_from(packed, bit / 8) >> (bit % 8)) & mask).cast_signed())
    };
    match first {
        None => values.extend((0..numbers).map(number)),
        Some(first) => {
            values.push(first);
            let mut value = first;
            values.extend((0..numbers).map(|place| {
                value = value.wrapping_add(number(place));
                value
            }));
            values.truncate(count);
        }
    }
    Ok(())
}

/// Eight bytes from a place, zero beyond the end.
fn eight_from(bytes: &[u8], place: usize) -> u64 {
    let rest = bytes.get(place..).unwrap_or_default();
    match rest.first_chunk::<8>() {
        Some(eight) => u64::from_le_bytes(*eight),
        None => rest.iter().rev().fold(0, |number, byte| number << 8 | u64::from(*byte)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn there_and_back(values: &[i64]) {
        if let Some(packed) = pack(values) {
            let mut back = vec![7];
            let mut bytes = Bytes(&packed);
            take(&mut bytes, values.len(), &mut back).expect("what was just packed");
            assert_eq!(back, values);
            assert!(bytes.0.is_empty(), "nothing is left over");
        }
    }

    proptest! {
        #[test]
        fn numbers_of_any_width_come_back(shift in 0_u32..64, values in prop::collection::vec(any::<i64>(), 1..300)) {
            there_and_back(&values.iter().map(|value| value >> shift).collect::<Vec<_>>());
        }

        #[test]
        fn any_bytes_give_numbers_or_an_error(bytes in prop::collection::vec(any::<u8>(), 0..60), count in 0_usize..300) {
            let mut values = Vec::new();
            if take(&mut Bytes(&bytes), count, &mut values).is_ok() {
                prop_assert_eq!(values.len(), count);
            }
        }
    }

    #[test]
    fn a_ramp_takes_a_few_bytes_and_what_is_too_wide_is_left_to_others() {
        let ramp: Vec<i64> = (0..240).map(|n| 1_000_000 + 37 * n + n % 2).collect();
        assert!(pack(&ramp).expect("narrow").len() < 70);
        assert_eq!(pack(&[i64::MIN, i64::MAX]), None);
        there_and_back(&ramp);
    }
}
