//! Cyclic redundancy check of up to eight bits, most significant bit first, bit by bit.

use crate::check::{BuildError, require};

/// A CRC: the usual four numbers of a catalogue of CRCs, without reflection.
///
/// Bit by bit, because a table of 256 bytes saves nothing that matters on a few bytes a period.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Crc {
    /// Width, bits, 3 to 8.
    pub bits: u8,
    /// Polynomial without its leading term.
    pub polynomial: u8,
    /// Register before the first bit.
    pub init: u8,
    /// What the register is combined with (exclusive or) after the last bit.
    pub xor_out: u8,
}

impl Crc {
    pub(super) fn check(&self, field: &'static str) -> Result<(), BuildError> {
        let fits = |x: u8| u32::from(x) >> self.bits.min(8) == 0;
        require(
            (3..=8).contains(&self.bits),
            field,
            f32::from(self.bits),
            "a CRC of 3 to 8 bits",
        )?;
        require(
            fits(self.polynomial) && self.polynomial & 1 == 1,
            field,
            f32::from(self.polynomial),
            "an odd polynomial within the CRC's width",
        )?;
        require(
            fits(self.init) && fits(self.xor_out),
            field,
            f32::from(self.init.max(self.xor_out)),
            "start and final values within the CRC's width",
        )
    }

    /// CRC of `bytes`.
    #[must_use]
    pub fn of_bytes(&self, bytes: impl IntoIterator<Item = u8>) -> u8 {
        let end = bytes
            .into_iter()
            .fold(self.init, |r, byte| self.feed(r, byte.into(), 8));
        end ^ self.xor_out
    }

    /// CRC of the lowest `bits` bits of `message`.
    #[must_use]
    pub fn of_bits(&self, message: u32, bits: u32) -> u8 {
        self.feed(self.init, message, bits) ^ self.xor_out
    }

    fn feed(&self, mut register: u8, message: u32, bits: u32) -> u8 {
        let low = |x: u32| 1_u32.checked_shl(x).unwrap_or(0);
        let top = low(u32::from(self.bits).saturating_sub(1)) as u8;
        let mask = low(self.bits.into()).wrapping_sub(1) as u8;
        for place in (0..bits.min(32)).rev() {
            let incoming = message & low(place) != 0;
            let outgoing = register & top != 0;
            register = register << 1 & mask;
            if incoming != outgoing {
                register ^= self.polynomial;
            }
        }
        register
    }
}
