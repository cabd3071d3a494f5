//! The accelerometer's driver: exact bus traffic and every error. The part is invented; its CRC is
//! made by long division.

use becalm_tests::drivers::{ACCELEROMETER, Bus, SMBUS, accelerometer_answer, division_remainder};
use embedded_hal::spi::ErrorKind;
use embedded_hal_mock::eh1::spi::{Mock, Transaction};
use firmware::drivers::{
    Accelerometer, AccelerometerLayout, Coding, CountSensor, Crc, DriverError, Field, Order, Ready,
};

fn exchange(out: &[u8], back: &[u8]) -> Vec<Transaction<u8>> {
    vec![
        Transaction::transaction_start(),
        Transaction::write_vec(out.to_vec()),
        Transaction::read_vec(back.to_vec()),
        Transaction::transaction_end(),
    ]
}

fn message(out: &[u8]) -> Vec<Transaction<u8>> {
    vec![
        Transaction::transaction_start(),
        Transaction::write_vec(out.to_vec()),
        Transaction::transaction_end(),
    ]
}

fn start() -> Vec<Transaction<u8>> {
    [
        exchange(&[0x8F], &[0x5A]),
        message(&[0x10, 0x07]),
        message(&[0x11, 0x80]),
    ]
    .concat()
}

/// A started driver whose bus then answers `back` to each reading; gives the readings.
fn readings(back: &[Vec<u8>]) -> Vec<Result<i16, DriverError>> {
    let mut traffic = start();
    for answer in back {
        traffic.extend(exchange(&[0xA0], answer));
    }
    let mut driver = Accelerometer::new(Mock::new(&traffic), ACCELEROMETER).expect("a layout");
    driver.start().expect("a start");
    let got = back.iter().map(|_| driver.read()).collect();
    driver.release().done();
    got
}

#[test]
fn start_and_readings_are_exactly_these_bytes() {
    let counts = [0, 1, -1, 1234, i16::MIN, i16::MAX];
    let answers = counts.map(|c| accelerometer_answer(c, true));
    assert_eq!(readings(&answers), counts.map(Ok));
}

#[test]
fn another_part_is_refused_and_gives_no_reading() {
    for found in [0x00, 0xFF, 0x5B] {
        let mut driver = Accelerometer::new(Mock::new(&exchange(&[0x8F], &[found])), ACCELEROMETER)
            .expect("a layout");
        assert_eq!(driver.start(), Err(DriverError::Identity(found)));
        // No traffic either: the mock would refuse it.
        assert_eq!(driver.read(), Err(DriverError::NotStarted));
        driver.release().done();
    }
}

#[test]
fn every_single_wrong_bit_is_seen() {
    let good = accelerometer_answer(-300, true);
    let answers: Vec<Vec<u8>> = (0..32)
        .map(|bit| {
            let mut bad = good.clone();
            bad[bit / 8] ^= 1 << (bit % 8);
            bad
        })
        .collect();
    assert!(
        readings(&answers)
            .iter()
            .all(|r| *r == Err(DriverError::Crc))
    );
}

#[test]
fn a_stuck_ready_bit_is_an_error_at_every_reading() {
    let stuck = vec![accelerometer_answer(5, false); 20];
    assert!(
        readings(&stuck)
            .iter()
            .all(|r| *r == Err(DriverError::NotReady))
    );
}

#[test]
fn ready_in_a_register_of_its_own() {
    let layout = AccelerometerLayout {
        identity: None,
        setup: &[],
        ready: Ready::Register {
            command: &[0xA7, 0x00],
            mask: 0x03,
        },
        ..ACCELEROMETER
    };
    let traffic = [
        exchange(&[0xA7, 0x00], &[0xFC]),
        exchange(&[0xA7, 0x00], &[0x02]),
        exchange(&[0xA0], &accelerometer_answer(77, false)),
    ]
    .concat();
    let mut driver = Accelerometer::new(Mock::new(&traffic), layout).expect("a layout");
    driver.start().expect("nothing to do");
    assert_eq!(driver.read(), Err(DriverError::NotReady));
    assert_eq!(driver.read(), Ok(77));
    driver.release().done();
}

/// Whatever transfer fails, its error arrives. A transfer that the bus gives up on in time is
/// such an error too (`Other`).
#[test]
fn failed_and_timed_out_transfers() {
    for kind in [
        ErrorKind::Other,
        ErrorKind::Overrun,
        ErrorKind::ModeFault,
        ErrorKind::FrameFormat,
        ErrorKind::ChipSelectFault,
    ] {
        for failing in 0..4 {
            let mut call = 0;
            let bus = Bus(|out: &[u8], _| {
                call += 1;
                match out {
                    _ if call == failing + 1 => Err(kind),
                    [0x8F] => Ok(vec![0x5A]),
                    [0xA0] => Ok(accelerometer_answer(9, true)),
                    _ => Ok(vec![]),
                }
            });
            let mut driver = Accelerometer::new(bus, ACCELEROMETER).expect("a layout");
            let started = driver.start();
            let error = Err(DriverError::Spi(kind));
            assert_eq!(started.is_ok(), failing == 3);
            if failing < 3 {
                assert_eq!(started, error.map(|_: i16| ()));
                assert_eq!(driver.read(), Err(DriverError::NotStarted));
                driver.start().expect("it works now");
            } else {
                assert_eq!(driver.read(), error);
            }
            assert_eq!(driver.read(), Ok(9));
        }
    }
}

/// Values of other widths, orders and codings, worked out by hand.
#[test]
fn fields() {
    let plain = AccelerometerLayout {
        identity: None,
        setup: &[],
        ready: Ready::None,
        crc: None,
        command: &[],
        answer_bytes: 3,
        word_at: 0,
        word_bytes: 3,
        ..ACCELEROMETER
    };
    let field = |shift, bits, coding| Field {
        shift,
        bits,
        coding,
    };
    let (twos, offset) = (Coding::TwosComplement, Coding::OffsetBinary);
    let (most, least) = (Order::MostFirst, Order::LeastFirst);
    for (order, value, bytes, counts) in [
        // 12 bits left-justified in 16, behind them a byte of something else.
        (most, field(12, 12, twos), [0x80, 0x0F, 0xFF], -2048),
        (most, field(12, 12, twos), [0x7F, 0xFF, 0xFF], 2047),
        // The word is 0x00800F; without its lowest 4 bits 0x800, half of the range.
        (least, field(4, 12, offset), [0x0F, 0x80, 0x00], 0),
        (least, field(4, 12, offset), [0x0F, 0x00, 0xFF], -2048),
        (least, field(4, 12, offset), [0xF0, 0xFF, 0x00], 2047),
        // 20 bits of which the upper 16 are kept: -1 of 20 bits is cut to -1.
        (most, field(8, 16, twos), [0xFF, 0xFF, 0xF0], -1),
        (most, field(8, 16, twos), [0x12, 0x34, 0x50], 0x1234),
        (most, field(8, 16, offset), [0x80, 0x00, 0xF0], 0),
        (most, field(0, 2, twos), [0xFF, 0xFF, 0xFE], -2),
    ] {
        let layout = AccelerometerLayout {
            order,
            value,
            ..plain
        };
        let bus = Bus(|out: &[u8], wanted| {
            assert!(out.is_empty() && wanted == 3);
            Ok(bytes.to_vec())
        });
        let mut driver = Accelerometer::new(bus, layout).expect("a layout");
        driver.start().expect("nothing to do");
        assert_eq!(driver.read(), Ok(counts), "{value:?} {bytes:02x?}");
    }
}

#[test]
fn crc_with_the_command() {
    let layout = AccelerometerLayout {
        identity: None,
        setup: &[],
        crc_with_command: true,
        ..ACCELEROMETER
    };
    let sum = division_remainder(&[0xA0, 0x08, 0x01, 0x02]);
    let traffic = [
        exchange(&[0xA0], &[0x08, 0x01, 0x02, sum]),
        exchange(&[0xA0], &accelerometer_answer(0x0102, true)),
    ]
    .concat();
    let mut driver = Accelerometer::new(Mock::new(&traffic), layout).expect("a layout");
    driver.start().expect("nothing to do");
    assert_eq!(driver.read(), Ok(0x0102));
    assert_eq!(driver.read(), Err(DriverError::Crc));
    driver.release().done();
}

#[test]
fn layouts_that_cannot_be() {
    let base = ACCELEROMETER;
    let long: &[u8] = &[0; 9];
    for (layout, field) in [
        (
            AccelerometerLayout {
                command: long,
                ..base
            },
            "command",
        ),
        (
            AccelerometerLayout {
                setup: &[&[]],
                ..base
            },
            "setup",
        ),
        (
            AccelerometerLayout {
                answer_bytes: 0,
                ..base
            },
            "answer_bytes",
        ),
        (
            AccelerometerLayout {
                answer_bytes: 9,
                ..base
            },
            "answer_bytes",
        ),
        (AccelerometerLayout { word_at: 2, ..base }, "word_bytes"),
        (
            AccelerometerLayout {
                word_at: 255,
                ..base
            },
            "word_bytes",
        ),
        (
            AccelerometerLayout {
                word_bytes: 1,
                ..base
            },
            "value",
        ),
        (
            AccelerometerLayout {
                value: Field {
                    bits: 17,
                    ..base.value
                },
                ..base
            },
            "value",
        ),
        (
            AccelerometerLayout {
                value: Field {
                    shift: 255,
                    ..base.value
                },
                ..base
            },
            "value",
        ),
        (
            AccelerometerLayout {
                ready: Ready::InAnswer { byte: 3, mask: 1 },
                ..base
            },
            "ready",
        ),
        (
            AccelerometerLayout {
                ready: Ready::InAnswer { byte: 0, mask: 0 },
                ..base
            },
            "ready",
        ),
        (
            AccelerometerLayout {
                ready: Ready::Register {
                    command: &[],
                    mask: 1,
                },
                ..base
            },
            "ready",
        ),
        (
            AccelerometerLayout {
                crc: Some(Crc { bits: 6, ..SMBUS }),
                ..base
            },
            "crc",
        ),
        (
            AccelerometerLayout {
                crc: Some(Crc { bits: 200, ..SMBUS }),
                ..base
            },
            "crc",
        ),
        (
            AccelerometerLayout {
                crc: Some(Crc {
                    polynomial: 0x06,
                    ..SMBUS
                }),
                ..base
            },
            "crc",
        ),
    ] {
        let error = Accelerometer::new(Bus(|_: &[u8], _| Ok(vec![])), layout).map(|_| ());
        assert_eq!(
            error.expect_err(field).field,
            format!("accelerometer.{field}")
        );
    }
}
