//! Layouts of any kind and bytes of any kind: a reading, an error or a refusal, never a panic.
//! And the CRC of the layouts, against a catalogue.

use becalm_tests::drivers::{ACCELEROMETER, Bus, SMBUS, division_remainder};
use firmware::drivers::{
    Accelerometer, AccelerometerLayout, Coding, CountSensor, Crc, Encoder, EncoderLayout, Field,
    Flag, Order, Ready, WordCheck,
};
use proptest::prelude::{ProptestConfig, any};
use proptest::{collection, proptest};

/// Check values (CRC of the ASCII digits 1 to 9) as the open-source library crc-catalog lists them.
#[test]
fn crc_against_a_catalogue() {
    let digits = *b"123456789";
    for (bits, polynomial, init, xor_out, check) in [
        (8, 0x07, 0x00, 0x00, 0xF4), // CRC-8/SMBUS
        (8, 0x1D, 0xFF, 0xFF, 0x4B), // CRC-8/SAE-J1850
        (6, 0x27, 0x3F, 0x00, 0x0D), // CRC-6/CDMA2000-A
        (6, 0x07, 0x3F, 0x00, 0x3B), // CRC-6/CDMA2000-B
    ] {
        let crc = Crc {
            bits,
            polynomial,
            init,
            xor_out,
        };
        assert_eq!(crc.of_bytes(digits), check);
    }
    assert_eq!(division_remainder(&digits), 0xF4);
    assert_eq!(
        SMBUS.of_bits(0x1234_5678, 32),
        SMBUS.of_bytes([0x12, 0x34, 0x56, 0x78])
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    /// Any layout is refused or works, and any bytes are a reading within the value's width or an
    /// error.
    #[test]
    fn any_accelerometer_and_any_bytes(
        sizes in any::<[u8; 8]>(),
        small in any::<bool>(),
        choice in any::<[bool; 5]>(),
        crc in any::<[u8; 3]>(),
        bytes in collection::vec(any::<u8>(), 64),
    ) {
        let size = |n: usize| if small { sizes[n] % 9 } else { sizes[n] };
        let [least_first, offset, with_crc, in_answer, register] = choice;
        let layout = AccelerometerLayout {
            answer_bytes: size(0),
            word_at: size(1) / 2,
            word_bytes: size(2) / 2,
            order: if least_first { Order::LeastFirst } else { Order::MostFirst },
            value: Field {
                shift: size(3),
                bits: size(4).saturating_mul(2),
                coding: if offset { Coding::OffsetBinary } else { Coding::TwosComplement },
            },
            ready: match (in_answer, register) {
                (true, _) => Ready::InAnswer { byte: size(5), mask: sizes[6] },
                (_, true) => Ready::Register { command: &[1], mask: sizes[6] },
                _ => Ready::None,
            },
            crc: with_crc.then_some(Crc {
                bits: size(7),
                polynomial: crc[0],
                init: crc[1],
                xor_out: crc[2],
            }),
            crc_with_command: register,
            ..ACCELEROMETER
        };
        let mut bytes = bytes.into_iter().cycle();
        let bus = Bus(|out: &[u8], n| {
            Ok(if out == [0x8F] { vec![0x5A] } else { bytes.by_ref().take(n).collect() })
        });
        if let Ok(mut driver) = Accelerometer::new(bus, layout) {
            driver.start().expect("a start");
            for _ in 0..4 {
                if let Ok(counts) = driver.read() {
                    let end = 1 << (layout.value.bits - 1);
                    assert!((-end..end).contains(&i32::from(counts)));
                }
            }
        }
    }

    /// Any layout is refused or works, and any bytes are a reading within the position's width or
    /// an error.
    #[test]
    fn any_encoder_and_any_bytes(
        sizes in any::<[u8; 4]>(),
        small in any::<bool>(),
        masks in any::<[u32; 2]>(),
        choice in any::<[bool; 4]>(),
        crc in any::<[u8; 3]>(),
        bytes in any::<[u8; 4]>(),
    ) {
        let size = |n: usize| if small { sizes[n] % 9 } else { sizes[n] };
        let [least_first, offset, parity, with_crc] = choice;
        let word_bytes = size(0) / 2;
        let flag = |mask: u32| Flag {
            // Small: bits above the position only, so that more layouts can be.
            mask: if small { mask & 0x00F0_0000 } else { mask },
            when_set: offset,
        };
        let layout = EncoderLayout {
            command: &[],
            word_bytes,
            order: if least_first { Order::LeastFirst } else { Order::MostFirst },
            position: Field {
                shift: size(1),
                bits: size(2).saturating_mul(2),
                coding: if offset { Coding::OffsetBinary } else { Coding::TwosComplement },
            },
            error: flag(masks[0]),
            warning: flag(masks[1]),
            check: match (parity, with_crc) {
                (true, _) => WordCheck::EvenParity,
                (_, true) => WordCheck::Crc(Crc {
                    bits: size(3),
                    polynomial: crc[0],
                    init: crc[1],
                    xor_out: crc[2],
                }),
                _ => WordCheck::None,
            },
        };
        let bus = Bus(|_: &[u8], n| Ok(bytes[..n].to_vec()));
        if let Ok(mut driver) = Encoder::new(bus, layout)
            && let Ok(counts) = driver.read()
        {
            let end = 1 << (layout.position.bits - 1);
            assert!((-end..end).contains(&i32::from(counts)));
        }
    }
}
