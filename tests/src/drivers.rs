//! Buses and pins that answer and fail as told, and write down what happens to them.

pub mod machine;

use embedded_hal::spi::{ErrorKind, ErrorType, Operation, SpiDevice};
use firmware::drivers::{
    AccelerometerLayout, Coding, Crc, EncoderLayout, Field, Flag, Identity, Order, Ready, WordCheck,
};

/// An SPI device played by a function: bytes written in, number of bytes to read back.
pub struct Bus<F>(pub F);

impl<F> ErrorType for Bus<F> {
    type Error = ErrorKind;
}

impl<F: FnMut(&[u8], usize) -> Result<Vec<u8>, ErrorKind>> SpiDevice for Bus<F> {
    fn transaction(&mut self, operations: &mut [Operation<'_, u8>]) -> Result<(), ErrorKind> {
        let mut written = Vec::new();
        let mut wanted = 0;
        for operation in operations.iter() {
            match operation {
                Operation::Write(bytes) => written.extend_from_slice(bytes),
                Operation::Read(bytes) => wanted += bytes.len(),
                other => panic!("no driver does this: {other:?}"),
            }
        }
        let answer = (self.0)(&written, wanted)?;
        let mut answer = answer.into_iter();
        for operation in operations {
            if let Operation::Read(bytes) = operation {
                for byte in bytes.iter_mut() {
                    *byte = answer.next().expect("a byte");
                }
            }
        }
        Ok(())
    }
}

/// An invented accelerometer: a status byte with the ready bit, a 16-bit value, a CRC.
pub const ACCELEROMETER: AccelerometerLayout = AccelerometerLayout {
    identity: Some(Identity {
        command: &[0x8F],
        value: 0x5A,
    }),
    setup: &[&[0x10, 0x07], &[0x11, 0x80]],
    command: &[0xA0],
    answer_bytes: 4,
    word_at: 1,
    word_bytes: 2,
    order: Order::MostFirst,
    value: Field {
        shift: 0,
        bits: 16,
        coding: Coding::TwosComplement,
    },
    ready: Ready::InAnswer {
        byte: 0,
        mask: 0x08,
    },
    crc: Some(SMBUS),
    crc_with_command: false,
};

/// CRC-8/SMBUS, as the open-source library crc-catalog lists it.
pub const SMBUS: Crc = Crc {
    bits: 8,
    polynomial: 0x07,
    init: 0,
    xor_out: 0,
};

/// An invented encoder: even parity in bit 15, error in bit 14, 14 bits of position.
pub const ENCODER: EncoderLayout = EncoderLayout {
    command: &[],
    word_bytes: 2,
    order: Order::MostFirst,
    position: Field {
        shift: 0,
        bits: 14,
        coding: Coding::OffsetBinary,
    },
    error: Flag {
        mask: 1 << 14,
        when_set: true,
    },
    warning: Flag::NONE,
    check: WordCheck::EvenParity,
};

/// What [`ACCELEROMETER`] answers to its command for `counts`.
pub fn accelerometer_answer(counts: i16, ready: bool) -> Vec<u8> {
    let [high, low] = counts.to_be_bytes();
    let body = [if ready { 0x08 } else { 0x00 }, high, low];
    let mut answer = body.to_vec();
    answer.push(division_remainder(&body));
    answer
}

/// Remainder of `bytes` times x^8 divided by x^8 + x^2 + x + 1: the definition of the CRC by long
/// division of polynomials over GF(2), on one big number, not the shift register of the driver.
pub fn division_remainder(bytes: &[u8]) -> u8 {
    let mut number = bytes.iter().fold(0_u128, |n, b| n << 8 | u128::from(*b)) << 8;
    for place in (8..128).rev() {
        if number >> place & 1 == 1 {
            number ^= 0x107 << (place - 8);
        }
    }
    number as u8
}

/// What [`ENCODER`] answers for `counts`.
pub fn encoder_answer(counts: i16) -> Vec<u8> {
    let position = (i32::from(counts) + 8192) as u16 & 0x3FFF;
    let parity = (position.count_ones() as u16 & 1) << 15;
    (parity | position).to_be_bytes().to_vec()
}
