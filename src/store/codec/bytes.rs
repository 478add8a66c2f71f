//! Whole numbers as bytes: seven bits a byte, the low ones first, the eighth bit saying that more follow.

use super::CodecError;

pub(in crate::store) fn put(out: &mut Vec<u8>, mut value: u64) {
    while value >= 0x80 {
        out.push(value.to_le_bytes()[0] | 0x80);
        value >>= 7;
    }
    out.push(value.to_le_bytes()[0]);
}

/// Small magnitudes of either sign become small numbers.
pub(in crate::store) fn put_signed(out: &mut Vec<u8>, value: i64) {
    put(out, ((value << 1) ^ (value >> 63)).cast_unsigned());
}

/// How many bits `put_signed` has to carry for a value.
pub(super) fn bits_signed(value: i64) -> u32 {
    64 - ((value << 1) ^ (value >> 63)).leading_zeros()
}

/// What is left to read of a chunk.
pub(in crate::store) struct Bytes<'a>(pub(in crate::store) &'a [u8]);

impl<'a> Bytes<'a> {
    pub(in crate::store) fn take(&mut self, count: usize) -> Result<&'a [u8], CodecError> {
        let (taken, rest) = self.0.split_at_checked(count).ok_or(CodecError::Short)?;
        self.0 = rest;
        Ok(taken)
    }

    pub(super) fn byte(&mut self) -> Result<u8, CodecError> {
        Ok(self.take(1)?[0])
    }

    pub(in crate::store) fn number(&mut self) -> Result<u64, CodecError> {
        let mut value = 0_u64;
        for shift in (0..64).step_by(7) {
            let byte = self.byte()?;
            value |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Ok(value);
            }
        }
        Err(CodecError::Nonsense("a number longer than 64 bits"))
    }

    pub(in crate::store) fn signed(&mut self) -> Result<i64, CodecError> {
        let value = self.number()?;
        Ok((value >> 1).cast_signed() ^ -(value & 1).cast_signed())
    }

    /// A length that cannot exceed what is left.
    pub(in crate::store) fn section(&mut self) -> Result<Bytes<'a>, CodecError> {
        let length = usize::try_from(self.number()?).map_err(|_| CodecError::Short)?;
        Ok(Bytes(self.take(length)?))
    }
}
