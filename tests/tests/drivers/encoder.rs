//! The encoder's driver: exact bus traffic, parity, CRC, the encoder's own error and warning,
//! broken lines. The encoders are invented.

use becalm_tests::drivers::{Bus, ENCODER, encoder_answer};
use embedded_hal::spi::ErrorKind;
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use firmware::drivers::{
    Coding, CountSensor, Crc, DriverError, Encoder, EncoderLayout, Field, Flag, Order, WordCheck,
};

fn word(layout: EncoderLayout, bytes: &[u8]) -> Result<i16, DriverError> {
    let bus = Bus(|_: &[u8], wanted| {
        assert_eq!(wanted, bytes.len());
        Ok(bytes.to_vec())
    });
    Encoder::new(bus, layout).expect("a layout").read()
}

#[test]
fn a_word_is_only_read() {
    let counts = [0, 1, -1, 2500, -2500, 8191, -8191];
    let mut traffic = Vec::new();
    for c in counts {
        traffic.extend([
            Transaction::transaction_start(),
            Transaction::read_vec(encoder_answer(c)),
            Transaction::transaction_end(),
        ]);
    }
    let mut driver = Encoder::new(Mock::new(&traffic), ENCODER).expect("a layout");
    assert_eq!(counts.map(|_| driver.read()), counts.map(Ok));
    driver.release().done();
}

#[test]
fn a_command_goes_before() {
    let layout = EncoderLayout {
        command: &[0xC3, 0x00],
        ..ENCODER
    };
    let traffic = [
        Transaction::transaction_start(),
        Transaction::write_vec(vec![0xC3, 0x00]),
        Transaction::read_vec(encoder_answer(-42)),
        Transaction::transaction_end(),
    ];
    let mut driver = Encoder::new(Mock::new(&traffic), layout).expect("a layout");
    assert_eq!(driver.read(), Ok(-42));
    driver.release().done();
}

#[test]
fn every_single_wrong_bit_is_bad_parity() {
    for counts in [0, 1000, -3000] {
        let good = encoder_answer(counts);
        for bit in 0..16 {
            let mut bad = good.clone();
            bad[bit / 8] ^= 1 << (bit % 8);
            assert_eq!(word(ENCODER, &bad), Err(DriverError::Parity), "bit {bit}");
        }
    }
}

/// An even parity passes both words, so they are refused by themselves.
#[test]
fn a_line_stuck_low_or_high() {
    for stuck in [0x00, 0xFF] {
        assert_eq!(word(ENCODER, &[stuck; 2]), Err(DriverError::Line));
        let bare = EncoderLayout {
            word_bytes: 4,
            check: WordCheck::None,
            error: Flag::NONE,
            ..ENCODER
        };
        assert_eq!(word(bare, &[stuck; 4]), Err(DriverError::Line));
    }
}

#[test]
fn the_encoder_s_own_error() {
    // Error bit set, and the parity bit that makes the word even.
    assert_eq!(word(ENCODER, &[0b1110_0000, 0]), Err(DriverError::Parity));
    assert_eq!(word(ENCODER, &[0b0110_0000, 0]), Err(DriverError::Device));
}

/// 12 bits of position, error and warning bits that say it when clear, six bits of CRC below:
/// the check word is made by long division here, by the driver's shift register there.
#[test]
fn crc_and_flags_when_clear() {
    let layout = EncoderLayout {
        command: &[],
        word_bytes: 3,
        order: Order::MostFirst,
        position: Field {
            shift: 8,
            bits: 12,
            coding: Coding::OffsetBinary,
        },
        error: Flag {
            mask: 1 << 7,
            when_set: false,
        },
        warning: Flag {
            mask: 1 << 6,
            when_set: false,
        },
        check: WordCheck::Crc(Crc {
            bits: 6,
            polynomial: 0x03,
            init: 0,
            xor_out: 0x3F,
        }),
    };
    let make = |position: u32, flags: u32| {
        let body = position << 8 | flags << 6;
        let mut rest = body;
        for place in (6..24).rev() {
            if rest >> place & 1 == 1 {
                rest ^= 0x43 << (place - 6);
            }
        }
        let [_, a, b, c] = (body | rest ^ 0x3F).to_be_bytes();
        [a, b, c]
    };
    assert_eq!(word(layout, &make(2048 + 700, 0b11)), Ok(700));
    assert_eq!(word(layout, &make(0, 0b11)), Ok(-2048));
    assert_eq!(word(layout, &make(99, 0b01)), Err(DriverError::Device));
    for bit in 0..24 {
        let mut bad = make(1234, 0b11);
        bad[bit / 8] ^= 1 << (bit % 8);
        assert_eq!(word(layout, &bad), Err(DriverError::Crc), "bit {bit}");
    }
    let warned = make(2048, 0b10);
    let mut driver =
        Encoder::new(Bus(|_: &[u8], _| Ok(warned.to_vec())), layout).expect("a layout");
    assert_eq!(driver.read(), Ok(0));
    assert_eq!(driver.read(), Ok(0));
    assert_eq!(driver.warnings(), 2);
}

#[test]
fn failed_and_timed_out_transfers() {
    let mut call = 0;
    let bus = Bus(|_: &[u8], _| {
        call += 1;
        match call {
            1 | 3 => Err(ErrorKind::Other),
            // The word of the start may be anything.
            2 => Ok(vec![0, 0]),
            _ => Ok(encoder_answer(3)),
        }
    });
    let mut driver = Encoder::new(bus, ENCODER).expect("a layout");
    assert_eq!(driver.start(), Err(DriverError::Spi(ErrorKind::Other)));
    assert_eq!(driver.start(), Ok(()));
    assert_eq!(driver.read(), Err(DriverError::Spi(ErrorKind::Other)));
    assert_eq!(driver.read(), Ok(3));
}

#[test]
fn layouts_that_cannot_be() {
    let base = ENCODER;
    let crc = Crc {
        bits: 6,
        polynomial: 0x03,
        init: 0,
        xor_out: 0,
    };
    let flag = |mask| Flag {
        mask,
        when_set: true,
    };
    for (layout, field) in [
        (
            EncoderLayout {
                command: &[0; 9],
                ..base
            },
            "command",
        ),
        (
            EncoderLayout {
                word_bytes: 0,
                ..base
            },
            "word_bytes",
        ),
        (
            EncoderLayout {
                word_bytes: 5,
                ..base
            },
            "word_bytes",
        ),
        (
            EncoderLayout {
                word_bytes: 1,
                ..base
            },
            "position",
        ),
        (
            EncoderLayout {
                error: flag(1 << 16),
                ..base
            },
            "error",
        ),
        (
            EncoderLayout {
                error: flag(1 << 13),
                ..base
            },
            "error",
        ),
        (
            EncoderLayout {
                warning: flag(1),
                ..base
            },
            "warning",
        ),
        (
            EncoderLayout {
                check: WordCheck::Crc(crc),
                ..base
            },
            "check",
        ),
    ] {
        let error = Encoder::new(Bus(|_: &[u8], _| Ok(vec![])), layout).map(|_| ());
        assert_eq!(error.expect_err(field).field, format!("encoder.{field}"));
    }
}
