//! A value in the bytes that come from a bus: byte order, place, width, coding.

use crate::check::{BuildError, require};

/// Order of the bytes on the bus.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Most significant byte first.
    MostFirst,
    /// Least significant byte first.
    LeastFirst,
}

impl Order {
    /// The bytes (the first four of them) as one word.
    pub(super) fn join(self, bytes: &[u8]) -> u32 {
        let push = |word: u32, byte: &u8| word << 8 | u32::from(*byte);
        match self {
            Self::MostFirst => bytes.iter().take(4).fold(0, push),
            Self::LeastFirst => bytes.iter().take(4).rev().fold(0, push),
        }
    }

    /// The lowest `length` (1 to 4) bytes of `word`, as they go over the bus, first of four, and
    /// their number.
    pub(super) fn split(self, word: u32, length: u8) -> ([u8; 4], usize) {
        let unused = 32_u32.saturating_sub(u32::from(length).saturating_mul(8));
        let bytes = match self {
            Self::MostFirst => word.checked_shl(unused).unwrap_or(0).to_be_bytes(),
            Self::LeastFirst => word.to_le_bytes(),
        };
        (bytes, usize::from(length))
    }
}

/// What the bits of a value mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coding {
    /// Two's complement: 0 is zero.
    TwosComplement,
    /// Offset binary: half of the range is zero.
    OffsetBinary,
}

/// A value of 2 to 16 bits in a word.
///
/// A converter with more than 16 bits: let `shift` drop the lowest ones. What is dropped is cut
/// off, not rounded, which moves the reading by half a count down on average.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Field {
    /// Bits of the word below the value, 0 to 30.
    pub shift: u8,
    /// Width of the value, bits, 2 to 16.
    pub bits: u8,
    /// What the bits mean.
    pub coding: Coding,
}

impl Field {
    /// Checks that the value lies within a word of `word_bits`.
    pub(super) fn check(&self, field: &'static str, word_bits: u8) -> Result<(), BuildError> {
        require(
            (2..=16).contains(&self.bits),
            field,
            f32::from(self.bits),
            "a value of 2 to 16 bits",
        )?;
        require(
            self.shift <= 30 && self.shift.saturating_add(self.bits) <= word_bits,
            field,
            f32::from(self.shift),
            "a value within its word",
        )
    }

    /// The value in `word`, counts; `-2^(bits-1)` to `2^(bits-1) - 1`.
    pub(super) fn read(&self, word: u32) -> i16 {
        let unused = 32_u32.saturating_sub(self.bits.into());
        let raw = word.checked_shr(self.shift.into()).unwrap_or(0);
        // To the top, so that the shift back down carries the sign.
        let top = raw.checked_shl(unused).unwrap_or(0);
        let signed = match self.coding {
            Coding::TwosComplement => top,
            Coding::OffsetBinary => top ^ 1 << 31,
        };
        (signed as i32).checked_shr(unused).unwrap_or(0) as i16
    }
}
