//! Framing: how a message becomes bytes on the wire, and back.

use super::BATCH;
use crate::frame::SensorFrame;
use crate::parameters::Parameters;
use cobs::{DecodeResult, DecoderState};
use crc::{CRC_32_ISO_HDLC, Crc, Digest, Table};
use postcard::ser_flavors::Flavor;
use serde::Serialize;

/// Longest message with its checksum, bytes: a request full of frames.
/// Mark 1, number 5, variant 1, length 2, frames, checksum 4.
pub const MESSAGE_BYTES: usize = 1 + 5 + 1 + 2 + BATCH * SensorFrame::BYTES + CRC_BYTES;

/// Longest packet, bytes: a zero, the message with one byte of overhead for every 254 begun, a
/// zero.
pub const PACKET_BYTES: usize = 1 + MESSAGE_BYTES + MESSAGE_BYTES / 254 + 1 + 1;

const CRC_BYTES: usize = 4;

static CRC: Crc<u32, Table<1>> = Crc::<u32, Table<1>>::new(&CRC_32_ISO_HDLC);

/// CRC-32/ISO-HDLC of `bytes`: polynomial 0x04C11DB7 reflected, start and final
/// inversion, as in ISO/IEC 13239 and IEEE 802.3.
#[must_use]
pub fn crc32(bytes: &[u8]) -> u32 {
    CRC.checksum(bytes)
}

/// What names a parameter table: [`crc32`] of its postcard encoding.
#[must_use]
pub fn parameters_crc(parameters: &Parameters) -> u32 {
    struct Sum(Digest<'static, u32, Table<1>>);
    impl Flavor for Sum {
        type Output = u32;
        fn try_push(&mut self, byte: u8) -> postcard::Result<()> {
            self.0.update(&[byte]);
            Ok(())
        }
        fn try_extend(&mut self, bytes: &[u8]) -> postcard::Result<()> {
            self.0.update(bytes);
            Ok(())
        }
        fn finalize(self) -> postcard::Result<u32> {
            Ok(self.0.finalize())
        }
    }
    // Nothing can fail: the sum takes every byte and the table holds only plain numbers.
    postcard::serialize_with_flavor(parameters, Sum(CRC.digest())).unwrap_or(0)
}

/// Which way a message goes. Its first byte says so, and an [`Inbox`] drops what goes the other
/// way: a line that echoes does not make an end talk to itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[repr(u8)]
pub enum Way {
    /// From the bench to the board.
    ToBoard = b'?',
    /// From the board to the bench.
    ToBench = b'!',
}

/// One packet, ready to be sent: a zero, the stuffed message with its checksum, a zero.
#[derive(Clone, Debug)]
pub struct Packet {
    bytes: [u8; PACKET_BYTES],
    used: usize,
}

impl Packet {
    /// No packet.
    #[must_use]
    pub const fn empty() -> Self {
        Self {
            bytes: [0; PACKET_BYTES],
            used: 0,
        }
    }

    /// Fills the packet with a message; whether it fits. A packet that did not is empty.
    pub fn fill<T: Serialize>(&mut self, way: Way, message: &T) -> bool {
        self.used = self.try_fill(way, message).unwrap_or(0);
        self.used > 0
    }

    fn try_fill<T: Serialize>(&mut self, way: Way, message: &T) -> Option<usize> {
        let mut plain = [0_u8; MESSAGE_BYTES];
        let (room, _) = plain.split_at_mut_checked(MESSAGE_BYTES - CRC_BYTES)?;
        let (mark, room) = room.split_first_mut()?;
        *mark = way as u8;
        let length = 1 + postcard::to_slice(message, room).ok()?.len();
        let sum = crc32(plain.get(..length)?).to_le_bytes();
        let end = length + CRC_BYTES;
        plain.get_mut(length..end)?.copy_from_slice(&sum);
        let (first, rest) = self.bytes.split_first_mut()?;
        *first = 0;
        let stuffed = cobs::try_encode(plain.get(..end)?, rest).ok()?;
        *rest.get_mut(stuffed)? = 0;
        Some(stuffed + 2)
    }

    /// The bytes to send.
    #[must_use]
    pub fn as_bytes(&self) -> &[u8] {
        self.bytes.get(..self.used).unwrap_or(&[])
    }
}

/// What a byte brought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Arrival<'a> {
    /// Nothing yet.
    Nothing,
    /// The end of a packet that cannot be used.
    Damaged,
    /// The end of a whole packet: its message, without mark and checksum.
    Message(&'a [u8]),
}

/// Puts arriving bytes together to messages.
#[derive(Debug)]
pub struct Inbox {
    way: Way,
    bytes: [u8; MESSAGE_BYTES],
    used: usize,
    overflow: bool,
    stuffing: DecoderState,
}

impl Inbox {
    /// Nothing has arrived. Messages that do not go this way will be dropped.
    #[must_use]
    pub const fn new(way: Way) -> Self {
        Self {
            way,
            bytes: [0; MESSAGE_BYTES],
            used: 0,
            overflow: false,
            stuffing: DecoderState::Idle,
        }
    }

    /// Takes one byte.
    pub fn push(&mut self, byte: u8) -> Arrival<'_> {
        match self.stuffing.feed(byte) {
            Ok(DecodeResult::NoData) => Arrival::Nothing,
            Ok(DecodeResult::DataContinue(plain)) => {
                match self.bytes.get_mut(self.used) {
                    Some(slot) => {
                        *slot = plain;
                        self.used = self.used.saturating_add(1);
                    }
                    None => self.overflow = true,
                }
                Arrival::Nothing
            }
            Ok(DecodeResult::DataComplete) => {
                let (used, overflow) = (self.used, self.overflow);
                self.clear();
                match checked(self.bytes.get(..used).unwrap_or(&[])) {
                    Some([mark, message @ ..]) if !overflow => {
                        if *mark == self.way as u8 {
                            Arrival::Message(message)
                        } else {
                            Arrival::Nothing
                        }
                    }
                    _ => Arrival::Damaged,
                }
            }
            Err(_) => {
                self.clear();
                Arrival::Damaged
            }
        }
    }

    fn clear(&mut self) {
        self.used = 0;
        self.overflow = false;
    }
}

/// The message before its checksum, when the checksum is right.
fn checked(bytes: &[u8]) -> Option<&[u8]> {
    let (message, sum) = bytes.split_last_chunk::<CRC_BYTES>()?;
    (crc32(message) == u32::from_le_bytes(*sum)).then_some(message)
}
