//! A short value that tells when a bit of it was struck.

use crate::plain;

/// Sixteen bits, with their complement in the upper half of the word.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[repr(transparent)]
pub struct Mirrored(u32);

plain!([] Mirrored { 0 });

impl Mirrored {
    #[inline(always)]
    /// These bits.
    #[must_use]
    pub const fn new(value: u16) -> Self {
        Self((!value as u32) << 16 | value as u32)
    }

    /// The bits in which the halves do not belong together.
    #[inline(always)]
    #[must_use]
    pub const fn changed(self) -> u32 {
        (self.0 ^ self.0 >> 16) & 0xFFFF ^ 0xFFFF
    }

    /// The value, as long as nothing has changed.
    #[inline(always)]
    #[must_use]
    pub const fn value(self) -> u16 {
        self.0 as u16
    }
}
