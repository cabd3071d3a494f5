//! An accelerometer on SPI: one register read a period.
//!
//! The axis and its polarity are a matter of the register that is read and of
//! `calibrate` (`per_count` may be negative).

use super::error::from_spi;
use super::{CountSensor, Crc, DriverError, Field, Order};
use crate::check::{BuildError, require};
use embedded_hal::spi::{Operation, SpiDevice};

/// Longest answer, bytes.
const ANSWER: usize = 8;

/// The register by which the part is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Identity {
    /// Bytes that are sent to read it, 1 to 8, dummy bytes included; one byte is read then.
    pub command: &'static [u8],
    /// What it must hold.
    pub value: u8,
}

/// Where the sensor says that it has a new value.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ready {
    /// Nowhere.
    None,
    /// In a byte of the answer: any bit of the mask set means ready.
    InAnswer {
        /// Which byte, from 0.
        byte: u8,
        /// Which bits.
        mask: u8,
    },
    /// In a register of its own, read by a transfer of its own before the value.
    Register {
        /// Bytes that are sent to read it, 1 to 8; one byte is read then.
        command: &'static [u8],
        /// Which bits.
        mask: u8,
    },
}

/// A part's register map, as far as it is used.
///
/// Common practice, no source: parts of this kind answer to one or more command bytes with
/// bytes that hold the value, often with status bits before it and a CRC after it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct AccelerometerLayout {
    /// Identity register, if there is one; checked by `start`.
    pub identity: Option<Identity>,
    /// Messages that `start` sends after the identity check, one transfer each: range,
    /// bandwidth, start of the measurement. 1 to 8 bytes each.
    pub setup: &'static [&'static [u8]],
    /// Bytes that are sent to read the value, 0 to 8, dummy bytes included.
    pub command: &'static [u8],
    /// Bytes that are read then, 1 to 8.
    pub answer_bytes: u8,
    /// First byte of the value's word in the answer, from 0.
    pub word_at: u8,
    /// Length of the word, bytes, 1 to 4.
    pub word_bytes: u8,
    /// Order of the word's bytes.
    pub order: Order,
    /// The value in the word.
    pub value: Field,
    /// Whether there is a new value.
    pub ready: Ready,
    /// CRC of the answer's other bytes; it is the answer's last byte. Its width is 8 bits.
    pub crc: Option<Crc>,
    /// Whether the CRC runs over the command before the answer.
    pub crc_with_command: bool,
}

impl AccelerometerLayout {
    fn check(&self) -> Result<(), BuildError> {
        let message = |field, bytes: &[u8], least: usize| {
            require(
                (least..=ANSWER).contains(&bytes.len()),
                field,
                bytes.len() as f32,
                "a message of at most 8 bytes, and of one at least where it asks for a register",
            )
        };
        if let Some(identity) = &self.identity {
            message("accelerometer.identity", identity.command, 1)?;
        }
        for bytes in self.setup {
            message("accelerometer.setup", bytes, 1)?;
        }
        message("accelerometer.command", self.command, 0)?;
        require(
            (1..=ANSWER as u8).contains(&self.answer_bytes),
            "accelerometer.answer_bytes",
            f32::from(self.answer_bytes),
            "1 to 8 bytes",
        )?;
        let payload = self.answer_bytes.saturating_sub(self.crc.is_some().into());
        require(
            (1..=4).contains(&self.word_bytes)
                && self.word_at.saturating_add(self.word_bytes) <= payload,
            "accelerometer.word_bytes",
            f32::from(self.word_bytes),
            "1 to 4 bytes within the answer, before its CRC",
        )?;
        self.value
            .check("accelerometer.value", self.word_bytes.saturating_mul(8))?;
        match self.ready {
            Ready::None => {}
            Ready::InAnswer { byte, mask } => require(
                byte < payload && mask != 0,
                "accelerometer.ready",
                f32::from(byte),
                "a byte of the answer, before its CRC, and a mask that is not zero",
            )?,
            Ready::Register { command, mask } => {
                message("accelerometer.ready", command, 1)?;
                require(
                    mask != 0,
                    "accelerometer.ready",
                    0.0,
                    "a mask that is not zero",
                )?;
            }
        }
        if let Some(crc) = &self.crc {
            crc.check("accelerometer.crc")?;
            require(
                crc.bits == 8,
                "accelerometer.crc",
                f32::from(crc.bits),
                "8 bits",
            )?;
        }
        Ok(())
    }
}

/// An accelerometer on an SPI bus.
///
/// A reading costs one transfer, or two with [`Ready::Register`].
///
/// A sensor that loses its power while it runs comes back with its reset settings, which no
/// reading shows. Where that can happen with the controller still running, choose a part that
/// says so in its status bits, or reset the controller with it.
#[derive(Clone, Debug)]
pub struct Accelerometer<B> {
    bus: B,
    layout: AccelerometerLayout,
    started: bool,
}

impl<B: SpiDevice> Accelerometer<B> {
    /// A driver that has not touched its bus yet.
    ///
    /// # Errors
    /// When the layout cannot be; the error names the field.
    pub fn new(bus: B, layout: AccelerometerLayout) -> Result<Self, BuildError> {
        layout.check()?;
        Ok(Self {
            bus,
            layout,
            started: false,
        })
    }

    /// Gives the bus back.
    pub fn release(self) -> B {
        self.bus
    }

    fn register(&mut self, command: &[u8]) -> Result<u8, DriverError> {
        let mut answer = [0_u8];
        self.bus
            .transaction(&mut [Operation::Write(command), Operation::Read(&mut answer)])
            .map_err(from_spi)?;
        let [byte] = answer;
        Ok(byte)
    }
}

impl<B: SpiDevice> CountSensor for Accelerometer<B> {
    /// Checks the identity, then sends the settings. After a failure the driver gives no
    /// readings ([`DriverError::NotStarted`]) until it is started again with success.
    fn start(&mut self) -> Result<(), DriverError> {
        self.started = false;
        if let Some(identity) = self.layout.identity {
            let found = self.register(identity.command)?;
            if found != identity.value {
                return Err(DriverError::Identity(found));
            }
        }
        for bytes in self.layout.setup {
            self.bus.write(bytes).map_err(from_spi)?;
        }
        self.started = true;
        Ok(())
    }

    /// Errors, in the order of the checks: not started, transfer, CRC, not ready.
    fn read(&mut self) -> Result<i16, DriverError> {
        if !self.started {
            return Err(DriverError::NotStarted);
        }
        if let Ready::Register { command, mask } = self.layout.ready
            && self.register(command)? & mask == 0
        {
            return Err(DriverError::NotReady);
        }
        let layout = &self.layout;
        let mut buffer = [0_u8; ANSWER];
        let answer = buffer
            .get_mut(..usize::from(layout.answer_bytes))
            .unwrap_or_default();
        if layout.command.is_empty() {
            self.bus.read(answer).map_err(from_spi)?;
        } else {
            self.bus
                .transaction(&mut [Operation::Write(layout.command), Operation::Read(answer)])
                .map_err(from_spi)?;
        }
        if let Some(crc) = &layout.crc {
            let (sum, body) = answer.split_last().unwrap_or((&0, &[]));
            let command = if layout.crc_with_command {
                layout.command
            } else {
                &[]
            };
            if crc.of_bytes(command.iter().chain(body).copied()) != *sum {
                return Err(DriverError::Crc);
            }
        }
        if let Ready::InAnswer { byte, mask } = layout.ready
            && answer.get(usize::from(byte)).unwrap_or(&0) & mask == 0
        {
            return Err(DriverError::NotReady);
        }
        let word = answer
            .get(usize::from(layout.word_at)..)
            .and_then(|rest| rest.get(..usize::from(layout.word_bytes)))
            .unwrap_or_default();
        Ok(layout.value.read(layout.order.join(word)))
    }
}
