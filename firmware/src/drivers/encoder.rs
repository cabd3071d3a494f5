//! An absolute encoder for the travel, on SPI: one word a period with the position, bits for
//! error and warning, and a parity bit or a CRC.

use super::error::from_spi;
use super::{CountSensor, Crc, DriverError, Field, Order};
use crate::check::{BuildError, require};
use embedded_hal::spi::{Operation, SpiDevice};

/// Bits of the word that say something when set, or when clear.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Flag {
    /// Which bits of the word; zero: none.
    pub mask: u32,
    /// Whether a set bit says it (or a clear one; then one clear bit suffices).
    pub when_set: bool,
}

impl Flag {
    /// No such bit.
    pub const NONE: Self = Self {
        mask: 0,
        when_set: true,
    };

    const fn raised(self, word: u32) -> bool {
        let word = if self.when_set { word } else { !word };
        word & self.mask != 0
    }
}

/// How the word is secured.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum WordCheck {
    /// Not at all.
    None,
    /// The number of ones in the whole word is even.
    EvenParity,
    /// The CRC in the lowest bits of the word, over all bits above it.
    Crc(Crc),
}

/// An encoder's word.
///
/// Common practice, no source: encoders of this kind send a fixed word on each read, often
/// without a command.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct EncoderLayout {
    /// Bytes that are sent before the word is read, 0 to 8; none: the word is only read.
    pub command: &'static [u8],
    /// Length of the word, bytes, 1 to 4.
    pub word_bytes: u8,
    /// Order of the word's bytes.
    pub order: Order,
    /// The position. For a plain binary position choose
    /// [`super::Coding::OffsetBinary`]: counts are zero at half of the encoder's range. Fit
    /// the encoder so that it does not wrap within the travel.
    pub position: Field,
    /// The encoder cannot vouch for the position.
    pub error: Flag,
    /// The position is good, but the encoder asks for service.
    pub warning: Flag,
    /// How the word is secured.
    pub check: WordCheck,
}

impl EncoderLayout {
    fn check(&self) -> Result<(), BuildError> {
        require(
            self.command.len() <= 8,
            "encoder.command",
            self.command.len() as f32,
            "at most 8 bytes",
        )?;
        require(
            (1..=4).contains(&self.word_bytes),
            "encoder.word_bytes",
            f32::from(self.word_bytes),
            "1 to 4 bytes",
        )?;
        let word_bits = self.word_bytes.saturating_mul(8);
        self.position.check("encoder.position", word_bits)?;
        let place = u64::from(u16::MAX) >> 16_u8.saturating_sub(self.position.bits)
            << self.position.shift.min(31);
        for (field, flag) in [
            ("encoder.error", self.error),
            ("encoder.warning", self.warning),
        ] {
            let mask = u64::from(flag.mask);
            require(
                mask >> word_bits == 0 && mask & place == 0,
                field,
                flag.mask as f32,
                "bits of the word beside the position",
            )?;
        }
        if let WordCheck::Crc(crc) = &self.check {
            crc.check("encoder.check")?;
            require(
                crc.bits <= self.position.shift,
                "encoder.check",
                f32::from(crc.bits),
                "a CRC below the position",
            )?;
        }
        Ok(())
    }

    const fn word_bits(&self) -> u32 {
        8 * self.word_bytes as u32
    }

    fn examine(&self, word: u32) -> Result<(), DriverError> {
        let all = u32::MAX
            .checked_shr(32_u32.saturating_sub(self.word_bits()))
            .unwrap_or(0);
        if word == 0 || word == all {
            return Err(DriverError::Line);
        }
        match &self.check {
            WordCheck::None => {}
            WordCheck::EvenParity => {
                if word.count_ones() & 1 != 0 {
                    return Err(DriverError::Parity);
                }
            }
            WordCheck::Crc(crc) => {
                let width = u32::from(crc.bits);
                let above = word.checked_shr(width).unwrap_or(0);
                let bits = self.word_bits().saturating_sub(width);
                let sum = word & !u32::MAX.checked_shl(width).unwrap_or(0);
                if u32::from(crc.of_bits(above, bits)) != sum {
                    return Err(DriverError::Crc);
                }
            }
        }
        if self.error.raised(word) {
            return Err(DriverError::Device);
        }
        Ok(())
    }
}

/// An absolute encoder on an SPI bus. A reading costs one transfer.
///
/// A word whose bits are all equal is refused ([`DriverError::Line`]), because a broken or
/// shorted line gives such words and an even parity passes them. The position that would have
/// such a word must lie outside of the travel.
#[derive(Clone, Debug)]
pub struct Encoder<B> {
    bus: B,
    layout: EncoderLayout,
    warnings: u32,
}

impl<B: SpiDevice> Encoder<B> {
    /// A driver that has not touched its bus yet.
    ///
    /// # Errors
    /// When the layout cannot be; the error names the field.
    pub fn new(bus: B, layout: EncoderLayout) -> Result<Self, BuildError> {
        layout.check()?;
        Ok(Self {
            bus,
            layout,
            warnings: 0,
        })
    }

    /// Good readings with a warning since reset; stops at its largest value.
    pub const fn warnings(&self) -> u32 {
        self.warnings
    }

    /// Gives the bus back.
    pub fn release(self) -> B {
        self.bus
    }
}

impl<B: SpiDevice> CountSensor for Encoder<B> {
    /// One reading that is thrown away: some encoders repeat the word of the last reading, or
    /// hold an old error until they are read once. Only a failed transfer is an error here.
    fn start(&mut self) -> Result<(), DriverError> {
        match self.read() {
            Err(error @ DriverError::Spi(_)) => Err(error),
            _ => Ok(()),
        }
    }

    /// Errors, in the order of the checks: transfer, line, parity or CRC, the encoder's own.
    fn read(&mut self) -> Result<i16, DriverError> {
        let layout = &self.layout;
        let mut buffer = [0_u8; 4];
        let bytes = buffer
            .get_mut(..usize::from(layout.word_bytes))
            .unwrap_or_default();
        if layout.command.is_empty() {
            self.bus.read(bytes).map_err(from_spi)?;
        } else {
            self.bus
                .transaction(&mut [Operation::Write(layout.command), Operation::Read(bytes)])
                .map_err(from_spi)?;
        }
        let word = layout.order.join(bytes);
        layout.examine(word)?;
        if layout.warning.raised(word) {
            self.warnings = self.warnings.saturating_add(1);
        }
        Ok(layout.position.read(word))
    }
}
